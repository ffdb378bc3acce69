"""What a user may write in a case file: one model a table, every key with its kind and default.

Defaults that are physical figures are not here: they come from the data, with their source.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field, model_validator

from studwell.case.crack_model import CrackTable, MaterialTable
from studwell.case.fields import (
    Conductance,
    Conductivity,
    ConeAngle,
    Contents,
    Count,
    Cycles,
    Difference,
    Duration,
    Embedding,
    Film,
    FilmFactor,
    FluidExpansion,
    Force,
    Friction,
    HeatFlux,
    InsertLength,
    LayerNames,
    Modulus,
    NutFactor,
    Pressure,
    Relaxation,
    RetightenMoment,
    SetShare,
    Share,
    Size,
    SizeOrZero,
    Steps,
    Table,
    Temperature,
    Time,
    Title,
    Tolerance,
    Torque,
    TorqueOrZero,
    Turn,
    Zone,
)
from studwell.case.review import ReviewTable

SCHEMA = 1
"""The version of the case file that this program reads."""

Seat = Literal[
    "auto",
    "tip on floor",
    "tip on cone",
    "tip on radius",
    "thread run-out in the hole",
    "thread run-out at the mouth",
    "insert tang",
]
"""The surfaces that may carry the drive of a stud; "auto" leaves it to the geometry."""


class CaseTable(Table):
    """[case]: what the file is."""

    schema_version: int = Field(alias="schema")
    title: Title
    notes: str = ""
    units: Literal["metric", "inch"]


class InsertTable(Table):
    """[boss.insert]: a wire thread insert in the hole."""

    length: InsertLength
    set_down: SizeOrZero
    material: str | None = None
    hole_friction: Friction | None = None


class MeshNamesTable(Table):
    """[boss.mesh_names]: what the user's own mesh calls the boundaries that must be known."""

    seat: Title = "seat"
    thread: Title = "thread"
    mouth: Title = "mouth"
    outer: Title = "outer"
    underside: Title = "underside"
    fillet: Title = "fillet"
    pocket: Title = "pocket"


class BossTable(Table):
    """[boss]: the casting round the blind tapped hole."""

    material: str
    outer_diameter: Size
    height: Size | None = None
    hole_depth: Size
    thread_depth: Size
    floor_thickness: Size | None = None
    hole_end: Literal["flat", "cone", "radiused"]
    cone_angle: ConeAngle | None = None
    corner_radius: Size
    mouth_chamfer: SizeOrZero | None = None
    mouth_counterbore_diameter: Size | None = None
    mouth_counterbore_depth: Size | None = None
    insert: InsertTable | None = None
    mesh: Title | None = None
    mesh_names: MeshNamesTable | None = None
    subdomains: dict[str, str] | None = None


class StudTable(Table):
    """[stud]: the stud, from its tip in the boss to its end in the nut."""

    thread: str
    nut_thread: str | None = None
    property_class: str
    material: str | None = None
    length: Size
    boss_thread_length: Size
    nut_thread_length: Size
    engaged_length: Size
    tip_diameter: Size
    tip_length: Size
    shank: Literal["full", "waisted"]
    shank_diameter: Size
    thread_model: Literal["layer", "bonded", "grooves"] = "layer"
    nut_thread_model: Literal["layer", "bonded", "grooves"] | None = None
    thread_clearance: SizeOrZero | None = None


class LayerTable(Table):
    """[[stack]]: one layer between boss and washers."""

    name: Title
    material: str | None = None
    gasket: str | None = None
    thickness: Size | None = None
    outer_diameter: Size
    inner_diameter: Size
    node: Title | None = None
    conductivity: Conductivity | None = None


class WasherTable(Table):
    """[[washer]]: one entry between stack and nut, a stocked size or own dimensions."""

    kind: Literal["plain", "spring"]
    size: str | None = None
    inner_diameter: Size | None = None
    outer_diameter: Size | None = None
    thickness: Size | None = None
    cone_height: Size | None = None
    parallel: Count = 1
    series: Count = 1
    orientation: Literal["crown up", "crown down"] = "crown up"
    edge_friction: Friction | None = None
    surface_friction: Friction | None = None
    material: str | None = None


class NutTable(Table):
    """[nut]: the nut, a stocked size or own dimensions."""

    kind: Literal["hex", "domed"]
    size: str | None = None
    thread: str | None = None
    height: Size | None = None
    bearing_diameter: Size | None = None
    width_across_flats: Size | None = None
    overall_height: Size | None = None
    bearing_inner_diameter: Size | None = None
    usable_thread_depth: Size | None = None
    material: str | None = None


class SeatingTable(Table):
    """[seating]: how the stud was put into its hole."""

    mode: Literal["bottomed", "backed off"]
    torque: Torque | None = None
    back_off: Turn | None = None
    counted_from: Literal["first contact", "driven seat"] | None = None
    thread_friction: Friction
    tip_friction: Friction
    seat: Seat = "auto"
    lock_torque: TorqueOrZero = 0.0
    threadlocker: str | None = None
    cured: bool | None = None
    threadlocker_fill: Share | None = None


class TighteningTable(Table):
    """[tightening]: how the nut was tightened."""

    torque: Torque | None = None
    preload: Force | None = None
    thread_friction: Friction
    bearing_friction: Friction
    nut_factor: NutFactor | None = None
    locked_torsion_share: Share | None = None


class PointTable(Table):
    """[[history.point]]: one instant, with the temperature of every node (the further keys)."""

    time: Time
    label: Title
    nodes: dict[str, Temperature]

    @model_validator(mode="before")
    @classmethod
    def _gather_nodes(cls, table: Any) -> Any:
        if not isinstance(table, dict):
            return table
        own = {key: value for key, value in table.items() if key in ("time", "label")}
        return {**own, "nodes": {key: value for key, value in table.items() if key not in own}}


class PhaseTable(Table):
    """[[history.phase]]: one stretch of a cycle of solved heat, with the values that the surfaces name."""

    label: Title
    duration: Duration
    ramp: Time = 0.0
    film_factor: FilmFactor = 1.0
    ambient: dict[str, Temperature] = Field(default_factory=dict)
    flux: dict[str, HeatFlux] = Field(default_factory=dict)
    temperature: dict[str, Temperature] = Field(default_factory=dict)


class HistoryTable(Table):
    """[history]: temperatures given at points with straight lines between them, or phases of solved heat."""

    assembly_temperature: Temperature
    steps: Steps
    cycles: Cycles = 1
    until_periodic: Difference | None = None
    point: list[PointTable] | None = Field(default=None, min_length=2)
    phase: list[PhaseTable] | None = Field(default=None, min_length=1)


class SurfaceTable(Table):
    """[[thermal.surface]]: an outer surface with a film to an ambient, a heat flux or a temperature."""

    name: Title
    film: Film | None = None
    ambient: Title | None = None
    heat_flux: Title | None = None
    temperature: Title | None = None


class ThermalTable(Table):
    """[thermal]: how heat passes between the bodies and at their outer surfaces."""

    contact_conductance: Conductance
    gap_conductance: Conductance
    spring_conductance: Conductance | None = None
    surface: list[SurfaceTable] = Field(min_length=1)


class SettlingTable(Table):
    """[settling]: how much the faces embed after tightening, how gaskets relax and how far springs set."""

    embedding_thread: Embedding
    embedding_bearing: Embedding
    embedding_inner: Embedding
    embedding_tip: Embedding
    gasket_relaxation: Relaxation | None = None
    spring_set: SetShare | None = None


class RetightenTable(Table):
    """[retighten]: when the nut is tightened once more."""

    after: RetightenMoment


class InelasticTable(Table):
    """[inelastic]: how much of the boss and which layers may yield, and whether they creep; without it all is elastic."""

    zone: Zone | None = None
    layers: LayerNames = ()
    creep: bool = False


class LimitsTable(Table):
    """[limits]: what the joint must keep."""

    minimum_clamp: Force | None = None
    minimum_gasket_pressure: Pressure | None = None


class PressureTable(Table):
    """[pressure]: the cylinder pressure on the clamped faces, shared by the studs of the pattern."""

    peak: Pressure
    bore: Size


class PocketTable(Table):
    """[pocket]: what is in the closed space under the tip."""

    contents: Contents = "empty"
    fill: Share | None = None
    fill_at: Literal["first contact", "as fitted"] | None = None
    seal: Literal["sealed", "leaking", "vented"] | None = None
    leak_time: Duration | None = None
    bulk_modulus: Modulus | None = None
    expansion: FluidExpansion | None = None


class PatternTable(Table):
    """[pattern]: the studs that share the load."""

    studs: Count


class RepairTable(Table):
    """[repair]: tolerances of drilling and of lengths, the tap, and the floor that must remain."""

    drill_depth_tolerance: Tolerance | None = None
    tap: Literal["bottoming", "plug"] | None = None
    stud_length_tolerance: Tolerance | None = None
    stack_tolerance: Tolerance | None = None
    least_floor: SizeOrZero | None = None


class SetupTables(Table):
    """All tables that describe one setup: the case's own, with the overrides of that setup laid on."""

    boss: BossTable
    stud: StudTable
    stack: list[LayerTable] = Field(min_length=1)
    washer: list[WasherTable] = Field(default_factory=list)
    nut: NutTable
    seating: SeatingTable
    tightening: TighteningTable
    history: HistoryTable
    limits: LimitsTable = Field(default_factory=LimitsTable)
    pressure: PressureTable | None = None
    pocket: PocketTable = Field(default_factory=PocketTable)
    pattern: PatternTable | None = None
    thermal: ThermalTable | None = None
    settling: SettlingTable | None = None
    retighten: RetightenTable | None = None
    inelastic: InelasticTable | None = None
    repair: RepairTable | None = None
    crack: CrackTable | None = None
    review: ReviewTable | None = None
    material: dict[str, MaterialTable] = Field(default_factory=dict)


ALTERNATIVES: dict[str, tuple[tuple[str, ...], ...]] = {
    "tightening": (("torque", "nut_factor"), ("preload",)),
    "boss": (("mouth_chamfer",), ("mouth_counterbore_diameter", "mouth_counterbore_depth")),
    "stack": (("material", "thickness"), ("gasket",)),
    "history": (("point",), ("phase",)),
    "seating": (("lock_torque",), ("threadlocker", "cured", "threadlocker_fill")),
}
"""Keys of a table that exclude each other: an override with one group drops the inherited other group."""


def table_keys(model: Any) -> list[str]:
    """Return the keys that a table of the case file may hold, as users write them."""
    return [info.alias or name for name, info in model.model_fields.items()]
