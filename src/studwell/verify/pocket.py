"""Checks of a liquid shut in: solved vessels against closed forms, the handbook's fixed volume, the melting curve of ice."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np

from studwell.joint.body import BodyResponse
from studwell.joint.condense import BodySpec, FaceColumns, StrainMode, condense
from studwell.joint.fluid_law import PocketLaw, PocketState
from studwell.joint.reduced import Interface, ReducedJoint, assemble
from studwell.joint.solve import solve_state
from studwell.joint.state import Heat, JointState, start_state
from studwell.mesh.blocks import Block, arc, build, graded
from studwell.mesh.mesh import Mesh
from studwell.mesh.reference import ring
from studwell.parts.fluid import stock_fluid
from studwell.parts.pocket import cylinder_give, heated_pocket_pressure, sphere_give
from studwell.verify.registry import Row, check, relative

Array = np.ndarray

INNER, OUTER = 4.0, 10.0
"""mm, radii of the vessels."""
WALL = (70_000.0, 0.33, 21.5e-6)
"""Young's modulus (MPa), Poisson's ratio and expansion (1/K) of the wall."""
OIL = (7e-4, 1500.0)
"""Expansion (1/K) and bulk modulus (MPa) of a typical oil."""
HEATING = 150.0
"""K."""
PSI = 6.894757e-3


def _vessel(name: str, mesh: Mesh, modulus: float, grip: str, ends: tuple[str, ...] = ()) -> BodyResponse:
    columns = {"wet": FaceColumns("bore", "normal", -1.0, together=True)}
    columns |= {end: FaceColumns(end, "normal", 1.0, together=True) for end in ends}
    uniform = StrainMode("heat 0", (0.0,), 0, (1.0, 1.0, 1.0, 0.0))
    spec = BodySpec(name, mesh, modulus, WALL[1], columns, (uniform,), grip, floating=False)
    return condense(spec, fields=False)


def _sphere(modulus: float) -> tuple[ReducedJoint, float]:
    """A hollow sphere and the volume in it, mm^3."""
    blocks = []
    for start in (0.0, -90.0):
        corners = [
            (radius * np.cos(np.radians(angle)), radius * np.sin(np.radians(angle)))
            for radius, angle in ((INNER, start), (OUTER, start), (OUTER, start + 90.0), (INNER, start + 90.0))
        ]
        curves = {
            "west": arc((0.0, 0.0), INNER, start, start + 90.0),
            "east": arc((0.0, 0.0), OUTER, start, start + 90.0),
        }
        tags = {"west": "bore", "east": "outside"}
        blocks.append(Block(corners, (8, 10), "wall", u_spacing=graded(8, 2.0), curves=curves, tags=tags))
    body = _vessel("sphere", build(blocks), modulus, "outside")
    volume = 4.0 / 3.0 * pi * INNER**3
    return _joined(body, {"wet": float(body.areas["wet"].sum())}, volume), volume


def _cylinder(modulus: float) -> tuple[ReducedJoint, float]:
    """A length of a closed-end cylinder, its ends pulled by the pressure on the caps, and the volume in it, mm^3."""
    height = 2.0
    body = _vessel("cylinder", ring(INNER, OUTER, height, (16, 2), ratio=2.0), modulus, "bottom", ("top", "bottom"))
    cap = pi * INNER**2
    weights = {"wet": float(body.areas["wet"].sum()), "top": cap, "bottom": cap}
    return _joined(body, weights, cap * height), cap * height


def _joined(body: BodyResponse, forces: dict[str, float], volume: float) -> ReducedJoint:
    """The vessel with its liquid: one port of 1 mm^2, so that its force is the pressure."""
    weights = np.zeros((body.n_columns, 1))
    for name, force in forces.items():
        weights[body.columns[name]] = force
    law = PocketLaw(area=1.0, volume=volume)
    return assemble([body], [Interface("pocket", law, {body.name: weights}, np.zeros(1), np.zeros(1))])


def _heated(joint: ReducedJoint, volume: float, wall: float, liquid: PocketState) -> JointState:
    """The state of a full vessel whose wall has a thermal strain and whose liquid is at its new temperature."""
    heat = Heat((np.array([wall]),), np.ones(1), 0.0)
    start = start_state(joint, heat)
    return solve_state(joint, replace(start, law_states=(liquid,)), heat)


@check(
    "sealed-vessels",
    subject="pocket",
    title="Oil sealed in a cylinder, a sphere and a rigid wall, heated by 150 K: solved with the wall's own give",
    source="volume balance with Lame's cylinder and sphere, Timoshenko & Goodier; oil values typical",
    status="computed",
    tolerance="0.1 %",
)
def sealed_vessels() -> list[Row]:
    """Compare p = (b - 3 a) dT / (1 / K + C), and the pressure of a cylinder that is first short of 5 % of its oil."""
    (growth, bulk), (modulus, ratio, expansion) = OIL, WALL
    shape = (INNER, OUTER, modulus, ratio)
    rows = []
    for name, make, stiff, give in (
        ("rigid", _cylinder, 1e12, 0.0),
        ("cylinder", _cylinder, modulus, float(cylinder_give(*shape))),
        ("sphere", _sphere, modulus, float(sphere_give(*shape))),
    ):
        joint, volume = make(stiff)
        liquid = PocketState(mass=volume, ratio=1.0 + growth * HEATING, bulk_modulus=bulk)
        pressure = float(_heated(joint, volume, expansion * HEATING, liquid).forces[0])
        expected = float(heated_pocket_pressure(growth, bulk, expansion, give, HEATING))
        rows.append(relative(name, expected, pressure, 1e-3, "MPa"))
    joint, volume = _cylinder(modulus)
    short = PocketState(mass=0.95 * volume, ratio=1.0 + growth * HEATING, bulk_modulus=bulk)
    pressure = float(_heated(joint, volume, expansion * HEATING, short).forces[0])
    grown = 0.95 * (1.0 + growth * HEATING) - (1.0 + 3.0 * expansion * HEATING)
    expected = grown / (0.95 / bulk + float(cylinder_give(*shape)))
    rows.append(relative("cylinder, 5 % of air", expected, pressure, 1e-3, "MPa"))
    return rows


@check(
    "sealed-fixed-volume",
    subject="pocket",
    title="Oil in a fixed volume warmed from 70 to 120 degF, solved",
    source="public handbook page on fluid power: bulk modulus 300 000 psi, 0.00046 per degF",
    status="confirmed",
    tolerance="0.1 %",
)
def sealed_fixed_volume() -> list[Row]:
    """Compare 6900 psi, that is 47.57 MPa."""
    joint, volume = _cylinder(1e12)
    liquid = PocketState(mass=volume, ratio=1.0 + 0.00046 * 50.0, bulk_modulus=300_000.0 * PSI)
    return [relative("pressure", 47.57, float(_heated(joint, volume, 0.0, liquid).forces[0]), 1e-3, "MPa")]


@check(
    "melting-curve",
    subject="pocket",
    title="Melting curve of ice Ih, and water that freezes in a closed cylinder",
    source="IAPWS R14-08(2011), check value at 260 K",
    status="confirmed",
    tolerance="last place",
)
def melting_curve() -> list[Row]:
    """Compare 138.268 MPa at 260 K, and that a full cylinder at 260 K, part ice, is under that pressure."""
    ice = stock_fluid("water").ice
    assert ice is not None
    at = 260.0 - 273.15
    melting = float(ice.melting_pressure(at))
    joint, volume = _cylinder(WALL[0])
    water = stock_fluid("water")
    freezing = PocketState(
        mass=volume,
        ratio=float(water.volume_ratio(at, 20.0)),
        bulk_modulus=float(water.bulk_modulus.at(at)),
        ice_ratio=float(water.ice_ratio(at, 20.0)),
        ice_modulus=float(ice.bulk_modulus.at(at)),
        melting_pressure=melting,
    )
    solved = float(_heated(joint, volume, WALL[2] * (at - 20.0), freezing).forces[0])
    return [
        Row("melting pressure at 260 K", 138.268, melting, 5e-4, "MPa"),
        Row("pressure of water that freezes in a cylinder", 138.268, solved, 5e-4, "MPa"),
    ]
