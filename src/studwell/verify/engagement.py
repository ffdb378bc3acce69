"""Checks of how the load spreads along an engaged thread: the solved layer against its laws, and teeth beside them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from studwell.case import case_from_text, starter_case
from studwell.data import assumption
from studwell.history.stages import HistoryResult, live_through
from studwell.joint.body import BodyResponse
from studwell.joint.build import BuiltJoint, build_joint
from studwell.joint.condense import BodySpec, FaceColumns, condense
from studwell.joint.grooves import thread_shares
from studwell.joint.laws import LinearCompliance
from studwell.joint.reduced import Interface, ReducedJoint, assemble
from studwell.joint.solve import solve_state
from studwell.joint.state import Heat, start_state
from studwell.mesh.blocks import build, grid_block
from studwell.parts.fastener import property_class, thread_load_shares
from studwell.parts.layer import layer_spread
from studwell.verify.registry import Row, check, relative

Array = np.ndarray

PULL = 1000.0
"""N, on the bar that is pulled."""


def bar(name: str, edges: Array, rigidity: float, columns: tuple[str, ...], floating: bool) -> BodyResponse:
    """Return a uniform bar as a condensed body: its stretch alone, held or pulled at z = 0.

    edges    : (n + 1,) mm, rising from 0: its loads are spread evenly between each two, in the column group "thread"
    rigidity : E A, N
    columns  : ("thread",) or ("thread", "end"); the end is the face at z = 0
    Source: mean over one piece of the stretch under a load spread over another, both at distances z from the held face:
    the integral of min(z, z') over both, exact.
    """
    low, high = edges[:-1], edges[1:]
    middle, length = 0.5 * (low + high), high - low
    compliance = np.minimum.outer(middle, middle) / rigidity
    np.fill_diagonal(compliance, (low + length / 3.0) / rigidity)
    n = len(middle)
    slices = {"thread": slice(0, n)}
    if "end" in columns:
        compliance = np.pad(compliance, (0, 1))
        slices["end"] = slice(n, n + 1)
    count = len(compliance)
    return BodyResponse(
        name=name,
        columns=slices,
        compliance=compliance,
        strain_response=np.zeros((count, 0)),
        axial_resultant=np.ones(count),
        modes=(),
        stress={},
        tension=None,
        floating=floating,
        displacement=None,
        unknowns=count,
        energy_error=0.0,
        areas={},
        midpoints={},
    )


def layered(stud: BodyResponse, nut: BodyResponse, thread: str, give: Array) -> ReducedJoint:
    """Tie two bodies with a thread layer of given compliances (n,) mm/N; the stud is pulled at its column "end"."""
    n = len(give)
    weights = {}
    for body, sign in ((stud, -1.0), (nut, 1.0)):
        matrix = np.zeros((body.n_columns, n))
        matrix[body.columns[thread]] = sign * np.eye(n)
        weights[body.name] = matrix
    face = Interface("thread", LinearCompliance(give), weights, np.zeros(n), np.ones(n))
    pull = np.zeros(stud.n_columns)
    pull[stud.columns["end"]] = 1.0 / (stud.columns["end"].stop - stud.columns["end"].start)
    return assemble([stud, nut], [face], outside={stud.name: pull})


def shares(joint: ReducedJoint, parts: int) -> Array:
    """Return the share of the pull that each of `parts` equal lengths of the thread carries, from z = 0 up."""
    heat = Heat((np.zeros(0), np.zeros(0)), np.ones(2), 0.0)
    state = solve_state(joint, start_state(joint, heat), heat, outside_load=PULL)
    return np.asarray(state.forces.reshape(parts, -1).sum(axis=1) / PULL)


@check(
    "thread-layer-bars",
    subject="threads",
    title="The solved thread layer between two uniform bars: share of each of six threads",
    source="sinh law of Goodier 1940, Sopwith 1948, Yamamoto (formula from memory, computed); the six-thread list on a "
    "public page is that law at 2.4347 (seen)",
    status="computed",
    tolerance="0.1 % of the share, 0.005 points of the printed list",
)
def layer_between_bars() -> list[Row]:
    """Solve bars of equal rigidity with 96 pieces of thread through the joint's own solver."""
    length, rigidity, pieces = 12.0, 1.0e7, 96
    edges = np.linspace(0.0, length, pieces + 1)
    rows = []
    printed_list = (34.00, 22.98, 15.80, 11.26, 8.59, 7.36)
    for spread in (1.0, 2.0, 3.0, 2.4347):
        stiffness = (spread / length) ** 2 * rigidity / 2.0
        stud = bar("stud", edges, rigidity, ("thread", "end"), True)
        nut = bar("nut", edges, rigidity, ("thread",), False)
        found = shares(layered(stud, nut, "thread", np.full(pieces, pieces / (stiffness * length))), 6)
        law = thread_load_shares(6, spread)
        if spread == 2.4347:
            rows += [
                Row(f"thread {k} of the list", each, 100 * float(found[k - 1]), 5e-3, "%")
                for k, each in enumerate(printed_list, start=1)
            ]
            continue
        rows.append(relative(f"first thread, spread {spread:g}", 100 * float(law[0]), 100 * float(found[0]), 1e-3, "%"))
        rows.append(relative(f"last thread, spread {spread:g}", 100 * float(law[5]), 100 * float(found[5]), 1e-3, "%"))
    return rows


@check(
    "thread-layer-ladder",
    subject="threads",
    title="The solved thread layer as a ladder of three threads: every spring 1, rigid nut",
    source="equilibrium of the ladder, exact",
    status="computed",
    tolerance="1e-9",
)
def ladder() -> list[Row]:
    """Solve three point threads: shares 5/8, 2/8, 1/8."""
    edges, give = np.array([0.0, 1.0, 2.0, 3.0]), 1e-5
    place = give * np.arange(3.0)
    stud = bar("stud", edges, 1.0, ("thread", "end"), True)
    stud = replace(stud, compliance=np.pad(np.minimum.outer(place, place), (0, 1)))
    nut = replace(bar("nut", edges, 1.0, ("thread",), False), compliance=np.zeros((3, 3)))
    found = shares(layered(stud, nut, "thread", np.full(3, give)), 3)
    return [
        Row(f"thread {k}", expected, float(found[k - 1]), 1e-9, "-")
        for k, expected in enumerate((0.625, 0.25, 0.125), start=1)
    ]


@check(
    "thread-layer-meshed",
    subject="threads",
    title="A meshed rod in a meshed sleeve, a thread layer between them: share of each of six threads",
    source="sinh law of Goodier 1940, Sopwith 1948, Yamamoto (from memory, computed) for long uniform bars",
    status="computed",
    tolerance="1 %",
)
def layer_between_meshes() -> list[Row]:
    """Condense a steel rod and an aluminium sleeve, 60 radii long, whose layer is soft enough for plane sections."""
    length, radius, outer, pieces = 240.0, 4.0, 8.0, 96
    steel, aluminium, spread = 210e3, 70e3, 2.0
    rod_rigidity = steel * np.pi * radius**2
    sleeve_rigidity = aluminium * np.pi * (outer**2 - radius**2)
    stiffness = (spread / length) ** 2 / (1.0 / rod_rigidity + 1.0 / sleeve_rigidity)
    heights = np.linspace(0.0, length, pieces + 1)

    def block(radii: Array, tags: dict[str, str]) -> object:
        vertices = np.empty((len(radii), len(heights), 2))
        vertices[:, :, 0], vertices[:, :, 1] = radii[:, None], heights[None, :]
        return build([grid_block(vertices, "bar", tags)])

    rod = BodySpec(
        name="stud",
        mesh=block(np.array([0.0, 2.0, radius]), {"east": "thread", "south": "end"}),  # type: ignore[arg-type]
        youngs_modulus=steel,
        poisson=0.0,
        columns={"thread": FaceColumns("thread", "z"), "end": FaceColumns("end", "z")},
        modes=(),
        grip="end",
    )
    sleeve = BodySpec(
        name="nut",
        mesh=block(np.array([radius, 6.0, outer]), {"west": "thread", "south": "end"}),  # type: ignore[arg-type]
        youngs_modulus=aluminium,
        poisson=0.0,
        columns={"thread": FaceColumns("thread", "z")},
        modes=(),
        grip="end",
        floating=False,
    )
    stud, nut = condense(rod, fields=False), condense(sleeve, fields=False)
    areas = stud.areas["end"] / stud.areas["end"].sum()
    joint = layered(stud, nut, "thread", np.full(pieces, pieces / (stiffness * length)))
    pull = np.zeros(stud.n_columns)
    pull[stud.columns["end"]] = areas
    joint = replace(joint, outside=(pull, joint.outside[1]))
    found = shares(joint, 6)
    law = thread_load_shares(6, float(layer_spread(length, stiffness, rod_rigidity, sleeve_rigidity)))
    return [relative(f"thread {k}", 100 * float(law[k - 1]), 100 * float(found[k - 1]), 1e-2, "%") for k in range(1, 7)]


@cache
def grooved() -> tuple[BuiltJoint, HistoryResult]:
    """The starter case's backed-off setup with teeth, assembled."""
    case = case_from_text(starter_case("M8"), "starter case")
    setup = next(s for s in case.setups if s.seating.mode == "backed off")
    stud = replace(setup.stud, thread_model="grooves", nut_thread_model="grooves")
    setup = replace(setup, stud=stud, history=replace(setup.history, steps=2))
    strength = property_class(stud.property_class, stud.thread.nominal_diameter)
    built = build_joint(
        setup,
        yield_strength=strength.yield_strength,
        ultimate_strength=strength.ultimate_strength,
        hardening_strain=assumption("stud_hardening_strain"),
        refinement=0.7,
        fields=False,
    )
    lived = live_through(setup, built.layout, built.bodies, built.joint, built.seat, yield_strength=1e5)
    return built, lived


@check(
    "thread-teeth-statics",
    subject="threads",
    title="Meshed teeth: axial load summed over all flanks against the tension of the stud's section",
    source="equilibrium, exact",
    status="computed",
    tolerance="1e-8 of the load",
)
def teeth_statics() -> list[Row]:
    """Compare both threads' flank sums with the section's tension in every state of the run."""
    _, lived = grooved()
    forces = lived.run_forces
    largest = float(np.max(forces.tension))
    return [
        Row(
            f"{name} thread over tension, worst state",
            1.0,
            1.0 + float(np.max(np.abs(load - forces.tension))) / largest,
            1e-8,
            "-",
        )
        for name, load in (("boss", forces.thread), ("nut", forces.nut_thread))
    ]


@check(
    "thread-teeth-first",
    subject="threads",
    title="Meshed teeth: share of the first thread of a steel nut, beside the classical third; the fewer whole threads the "
    "larger",
    source="range 30 to 35 % for a steel nut of common size (from memory: Kenny & Patterson 1985)",
    status="from memory",
    tolerance="range of a common nut",
)
def teeth_first() -> list[Row]:
    """Report the share; the classical figure belongs to a nut in compression, not to a tapped hole."""
    built, lived = grooved()
    state = lived.run[0]
    nut = built.layout.nut.teeth
    assert nut is not None
    carried = thread_shares(built.joint, "nut thread", nut, state.forces)
    share = 100 * float(carried[0] / carried.sum())
    return [Row(f"first of the {nut.count} whole threads that the nut has", 32.5, share, 2.5, "%")]


def _short(friction: float, clearance: float | None, refinement: float) -> tuple[float, float, float]:
    """First boss thread's share, the stud's root stress (MPa) there and the largest clamp (N) of a joint with four threads."""
    case = case_from_text(starter_case("M8"), "starter case")
    setup = next(s for s in case.setups if s.seating.mode == "backed off")
    setup = replace(
        setup,
        stud=replace(
            setup.stud,
            thread_model="grooves",
            nut_thread_model="grooves",
            thread_clearance=clearance,
            engaged_length=6.0,
        ),
        seating=replace(setup.seating, thread_friction=friction),
        tightening=replace(setup.tightening, thread_friction=friction, torque=None, preload=10e3, nut_factor=None),
        history=replace(setup.history, steps=12),
    )
    strength = property_class(setup.stud.property_class, setup.stud.thread.nominal_diameter)
    built = build_joint(
        setup,
        yield_strength=strength.yield_strength,
        ultimate_strength=strength.ultimate_strength,
        hardening_strain=assumption("stud_hardening_strain"),
        refinement=refinement,
        fields=False,
    )
    lived = live_through(setup, built.layout, built.bodies, built.joint, built.seat, yield_strength=1e5)
    state = lived.run[0]
    teeth = built.layout.boss.teeth
    assert teeth is not None
    carried = thread_shares(built.joint, "boss thread", teeth, state.forces)
    stud = built.joint.body_index("stud")
    root = built.joint.bodies[stud].stress["thread roots"].force[0] @ built.joint.column_forces(stud, state.forces)
    return float(carried[0] / carried.sum()), float(root[2]), float(lived.run_forces.clamp.max())


@check(
    "thread-teeth-mesh",
    subject="threads",
    title="Meshed teeth: a mesh of half the size, friction from 0 to 0.3 and clearance from none to wide",
    source="own record of convergence and of what the inputs move; no outside figure",
    status="computed",
    tolerance="mesh 1 % of the share and 2 % of the root's axial stress; friction and clearance reported within 10 %",
    slow=True,
)
def teeth_converge() -> list[Row]:
    """Compare a joint of four threads with the same on a finer mesh, with other friction and with other clearance."""
    share, root, clamp = _short(0.15, None, 1.0)
    fine_share, fine_root, fine_clamp = _short(0.15, None, 2.0)
    rows = [
        relative("first thread's share, fine mesh first", 100 * fine_share, 100 * share, 1e-2, "%"),
        relative("axial stress under the stud's first root, fine mesh first", fine_root, root, 2e-2, "MPa"),
        relative("largest clamp, fine mesh first", fine_clamp, clamp, 1e-3, "N"),
    ]
    for name, friction, clearance in (
        ("no friction", 0.0, None),
        ("friction 0.3", 0.3, None),
        ("no clearance", 0.15, 0.0),
        ("clearance 0.3 mm", 0.15, 0.3),
    ):
        other_share, other_root, _ = _short(friction, clearance, 1.0)
        rows.append(relative(f"first thread's share, {name}", 100 * share, 100 * other_share, 0.1, "%"))
        rows.append(relative(f"axial stress under the first root, {name}", root, other_root, 0.1, "MPa"))
    return rows
