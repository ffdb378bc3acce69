"""Checks of contact between condensed bodies against closed forms: fits, gaps, joint diagram, punch."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from scipy.optimize import brentq

from studwell.joint.body import BodyResponse
from studwell.joint.condense import BodySpec, FaceColumns, StrainMode, condense
from studwell.joint.laws import LinearCompliance, UnilateralContact
from studwell.joint.reduced import Interface, ReducedJoint, assemble
from studwell.joint.solve import solve_state
from studwell.joint.state import Heat, JointState, shank_tension, start_state
from studwell.mesh.blocks import Block, build, graded
from studwell.mesh.mesh import Mesh
from studwell.mesh.reference import ring
from studwell.parts.members import differential_growth, joint_loads, load_factor, separation_load
from studwell.verify.registry import Row, check, relative

Array = np.ndarray

ALUMINIUM = (70_000.0, 0.33)
STEEL = (210_000.0, 0.3)
"""Young's modulus (MPa) and Poisson's ratio used by the closed forms."""

ALUMINIUM_EXPANSION = 21.5e-6
STEEL_EXPANSION = 11.5e-6

UNIFORM = (1.0, 1.0, 1.0, 0.0)


def _body(
    name: str,
    mesh: Mesh,
    material: tuple[float, float],
    columns: Mapping[str, FaceColumns],
    grip: str = "bottom",
    floating: bool = True,
    points: Mapping[str, Array] | None = None,
    tension: bool = False,
) -> BodyResponse:
    """A condensed body with one uniform heat mode and, if wanted, a tension summed over its whole length."""
    return condense(
        BodySpec(
            name=name,
            mesh=mesh,
            youngs_modulus=material[0],
            poisson=material[1],
            columns=columns,
            modes=(StrainMode("heat 0", (0.0,), 0, UNIFORM),),
            grip=grip,
            floating=floating,
            stress_points=points or {},
            tension_region="ring" if tension else None,
        ),
        fields=False,
    )


def _edges(body: BodyResponse, group: str) -> Array:
    """(columns, edges): each edge of a face is its own port."""
    part = body.columns[group]
    weights = np.zeros((body.n_columns, part.stop - part.start))
    weights[part] = np.eye(part.stop - part.start)
    return weights


def _whole(body: BodyResponse, group: str) -> Array:
    """(columns, 1): a face as one port with even pressure."""
    weights = np.zeros((body.n_columns, 1))
    weights[body.columns[group], 0] = body.areas[group] / body.areas[group].sum()
    return weights


def _heat(joint: ReducedJoint, strains: Mapping[str, float]) -> Heat:
    """Even thermal strain of each named body."""
    amplitudes = tuple(np.array([strains.get(body.name, 0.0)]) for body in joint.bodies)
    return Heat(amplitudes, np.ones(len(joint.bodies)), 0.0)


def _solved(joint: ReducedJoint, strains: Mapping[str, float] | None = None, load: float = 0.0) -> JointState:
    heat = _heat(joint, strains or {})
    return solve_state(joint, start_state(joint, heat), heat, outside_load=load)


def _crossing(function: Callable[[float], float], low: float, high: float) -> float:
    """Where a function of one variable changes its sign, to 1e-6 of the interval."""
    return float(brentq(function, low, high, xtol=1e-6 * (high - low)))


def _pin_in_ring() -> ReducedJoint:
    inner, outer, interference, height = 4.0, 10.0, 0.005, 2.0
    pin = _body("pin", ring(0.0, inner, height, (4, 2)), STEEL, {"out": FaceColumns("outside", "r", -1.0)})
    around = _body(
        "ring",
        ring(inner, outer, height, (16, 2), ratio=2.0),
        ALUMINIUM,
        {"in": FaceColumns("bore", "r", 1.0)},
        points={"bore": np.array([[inner, 0.5 * height]])},
    )
    n = 2
    fit = Interface(
        "fit",
        UnilateralContact(),
        {"pin": _edges(pin, "out"), "ring": _edges(around, "in")},
        np.full(n, -interference),
        np.zeros(n),
    )
    return assemble([pin, around], [fit])


@check(
    "shrink-fit",
    subject="contact",
    title="Pin pressed into a ring, free ends, no friction",
    source="Shigley, Mechanical Engineering Design, press and shrink fits; Lame thick cylinder",
    status="computed",
    tolerance="0.5 %",
)
def shrink_fit() -> list[Row]:
    """Compare the pressure p = d / {b [((c2+b2)/(c2-b2) + nu_o)/E_o + (1 - nu_i)/E_i]} and the ring's hoop stress."""
    b, c, interference = 4.0, 10.0, 0.005
    (e_i, nu_i), (e_o, nu_o) = STEEL, ALUMINIUM
    shape = (c**2 + b**2) / (c**2 - b**2)
    pressure = interference / (b * ((shape + nu_o) / e_o + (1.0 - nu_i) / e_i))
    joint = _pin_in_ring()
    state = _solved(joint)
    obtained = state.forces.sum() / (2.0 * np.pi * b * 2.0)
    hoop = joint.bodies[1].stress["bore"].stress(joint.column_forces(1, state.forces), np.zeros(1), 1.0)[0, 1]
    return [
        relative("pressure of the fit", pressure, float(obtained), 5e-3, "MPa"),
        relative("hoop stress at the ring's bore", pressure * shape, float(hoop), 5e-3, "MPa"),
    ]


@check(
    "shrink-fit-opens",
    subject="contact",
    title="Heat opens a steel pin's fit in an aluminium ring",
    source="free expansion: the fit is lost when b (a_ring - a_pin) dT equals the interference",
    status="computed",
    tolerance="0.01 K",
)
def shrink_fit_opens() -> list[Row]:
    """Compare the heating at which the last pressure goes, 125 K, and the gap at twice that."""
    joint = _pin_in_ring()

    def squeeze(heating: float) -> float:
        state = _solved(joint, {"pin": STEEL_EXPANSION * heating, "ring": ALUMINIUM_EXPANSION * heating})
        return float(state.forces.sum() - 1e5 * state.openings.sum())

    opens = 0.005 / (4.0 * (ALUMINIUM_EXPANSION - STEEL_EXPANSION))
    open_state = _solved(joint, {"pin": STEEL_EXPANSION * 2 * opens, "ring": ALUMINIUM_EXPANSION * 2 * opens})
    return [
        Row("heating that opens the fit", opens, _crossing(squeeze, 0.0, 300.0), 0.01, "K"),
        Row("gap at twice that heating", 0.005, float(open_state.openings.mean()), 1e-6, "mm"),
        Row("force across the open gap", 0.0, float(np.abs(open_state.forces).max()), 1e-9, "N"),
    ]


def _bar(name: str, area: float, length: float, material: tuple[float, float], inner: float = 0.0) -> BodyResponse:
    """A straight bar or tube of given cross-section; columns 'bottom' and 'top' push it apart from its neighbours."""
    outer = float(np.sqrt(area / np.pi + inner**2))
    columns = {"bottom": FaceColumns("bottom", "z", 1.0), "top": FaceColumns("top", "z", -1.0)}
    return _body(name, ring(inner, outer, length, (2, 4)), material, columns, tension=name in ("bolt", "bar"))


def _bonded(name: str, weights: Mapping[str, Array]) -> Interface:
    return Interface(name, LinearCompliance(np.zeros(1)), weights, np.zeros(1), np.ones(1))


@check(
    "bolt-and-sleeve",
    subject="contact",
    title="Steel bolt through an aluminium sleeve, fixed together and heated",
    source="Timoshenko, Strength of Materials, Part I: bolt in a tube",
    status="computed",
    tolerance="1e-6",
)
def bolt_and_sleeve() -> list[Row]:
    """Compare F = (a_s - a_b) dT / (1/(E_b A_b) + 1/(E_s A_s)) at two lengths: it does not depend on them."""
    bolt_area, sleeve_area, heating = 36.6, 200.0, 150.0
    give = 1.0 / (STEEL[0] * bolt_area) + 1.0 / (ALUMINIUM[0] * sleeve_area)
    force = (ALUMINIUM_EXPANSION - STEEL_EXPANSION) * heating / give
    rows = []
    for length in (20.0, 60.0):
        bolt = _bar("bolt", bolt_area, length, STEEL)
        sleeve = _bar("sleeve", sleeve_area, length, ALUMINIUM, inner=4.5)
        ends = [
            _bonded(end, {"bolt": sign * _whole(bolt, end), "sleeve": -sign * _whole(sleeve, end)})
            for end, sign in (("bottom", -1.0), ("top", -1.0))
        ]
        joint = assemble([bolt, sleeve], ends)
        state = _solved(joint, {"bolt": STEEL_EXPANSION * heating, "sleeve": ALUMINIUM_EXPANSION * heating})
        tension = shank_tension(joint, state)
        rows.append(relative(f"bolt tension, length {length:g} mm", force, tension, 1e-6, "N"))
        rows.append(relative(f"sleeve force, length {length:g} mm", force, float(state.forces[1]), 1e-6, "N"))
    return rows


@check(
    "bar-closes-a-gap",
    subject="contact",
    title="Heated bar that closes a gap to a wall",
    source="Timoshenko, Strength of Materials, Part I: N = E A (a dT L - g) / L once the gap is closed",
    status="computed",
    tolerance="1e-6",
)
def bar_closes_a_gap() -> list[Row]:
    """Compare the closing temperature, the force beyond it, and force and growth before it."""
    length, area, expansion, gap = 100.0, 100.0, 23e-6, 0.1
    modulus = ALUMINIUM[0]
    bar = _bar("bar", area, length, ALUMINIUM)
    wall = Interface("wall", UnilateralContact(), {"bar": _edges(bar, "top")}, np.full(2, gap), np.ones(2))
    joint = assemble([bar], [_bonded("foot", {"bar": _whole(bar, "bottom")}), wall])

    def squeeze(heating: float) -> float:
        state = _solved(joint, {"bar": expansion * heating})
        return float(np.sum(state.forces[1:] - 1e5 * state.openings[1:]))

    hot, warm = _solved(joint, {"bar": expansion * 100.0}), _solved(joint, {"bar": expansion * 40.0})
    closes = gap / (expansion * length)
    force = -modulus * area * (expansion * 100.0 * length - gap) / length
    return [
        relative("heating that closes the gap", closes, _crossing(squeeze, 0.0, 100.0), 1e-4, "K"),
        relative("axial force at 100 K", force, shank_tension(joint, hot), 1e-6, "N"),
        relative("push on the wall at 100 K", -force, float(hot.forces[1:].sum()), 1e-6, "N"),
        Row("axial force at 40 K", 0.0, shank_tension(joint, warm), 1e-6, "N"),
        relative("growth at 40 K", 0.092, float(gap - warm.openings[1:].mean()), 1e-6, "mm"),
    ]


@check(
    "joint-diagram",
    subject="contact",
    title="Preloaded joint under an outside load, before and after it separates",
    source="Shigley, Mechanical Engineering Design, ch. 8: joint diagram",
    status="computed",
    tolerance="1e-6",
)
def joint_diagram() -> list[Row]:
    """Compare load factor, separation load, bolt and clamp at 8000 N, and the slope after separation."""
    bolt_stiffness, member_stiffness, preload, pull, length = 167_697.0, 352_209.0, 10_000.0, 8000.0, 25.0
    bolt = _bar("bolt", bolt_stiffness * length / STEEL[0], length, STEEL)
    sleeve = _bar("sleeve", member_stiffness * length / ALUMINIUM[0], length, ALUMINIUM, inner=4.5)
    overlap = preload * (1.0 / bolt_stiffness + 1.0 / member_stiffness)
    head = Interface(
        "head",
        UnilateralContact(),
        {"bolt": -_whole(bolt, "top"), "sleeve": _whole(sleeve, "top")},
        np.array([-overlap]),
        np.ones(1),
    )
    feet = [_bonded(f"foot of {body.name}", {body.name: _whole(body, "bottom")}) for body in (bolt, sleeve)]
    joint = assemble([bolt, sleeve], [head, *feet], outside={"bolt": -_whole(bolt, "top")[:, 0]})

    def tension(load: float) -> float:
        return shank_tension(joint, _solved(joint, load=load))

    def squeeze(load: float) -> float:
        state = _solved(joint, load=load)
        return float(state.forces[0] - 1e5 * state.openings[0])

    factor = float(load_factor(bolt_stiffness, member_stiffness))
    separates = float(separation_load(preload, factor))
    loads = joint_loads(preload, factor, pull)
    return [
        relative("load factor", factor, (tension(pull) - tension(0.0)) / pull, 1e-6, "1"),
        relative("outside load that separates", separates, _crossing(squeeze, 0.0, 20_000.0), 1e-5, "N"),
        relative("bolt tension at 8000 N", float(loads.bolt), tension(pull), 1e-6, "N"),
        relative("clamp at 8000 N", float(loads.clamp), float(_solved(joint, load=pull).forces[0]), 1e-6, "N"),
        relative("slope after separation", 1.0, (tension(18_000.0) - tension(16_000.0)) / 2000.0, 1e-6, "1"),
        Row("clamp after separation", 0.0, float(_solved(joint, load=16_000.0).forces[0]), 1e-9, "N"),
    ]


@check(
    "receding-contact",
    subject="contact",
    title="Layer pressed on a block: contact shrinks at once and then stays",
    source="Dundurs & Stippes 1970, role of elastic constants in certain contact problems (property)",
    status="computed",
    tolerance="contact one element, stress 0.01 %",
)
def receding_contact() -> list[Row]:
    """Compare contact radius and stresses at a load and at twice the load: the radius stays, stresses double."""
    radius, thickness, elements = 10.0, 1.0, 24
    spacing, tags = graded(elements, 3.0), {"south": "bottom", "north": "top"}
    corners = [[0.0, 0.0], [radius, 0.0], [radius, thickness], [0.0, thickness]]
    layer_mesh = build([Block(corners, (elements, 3), "ring", tags, u_spacing=spacing)])
    loaded = radius * spacing[4]
    layer_mesh = layer_mesh.with_boundary("loaded", lambda r, z: (z > thickness - 1e-9) & (r < loaded))
    deep = [[0.0, 0.0], [radius, 0.0], [radius, radius], [0.0, radius]]
    block_mesh = build(
        [Block(deep, (elements, 10), "ring", tags, u_spacing=spacing, v_spacing=1.0 - graded(10, 6.0)[::-1])]
    )
    layer = _body(
        "layer",
        layer_mesh,
        STEEL,
        {"under": FaceColumns("bottom", "z", 1.0), "on": FaceColumns("loaded", "z", -1.0)},
        points={"centre": np.array([[1e-3, 1e-3]])},
    )
    block = _body("block", block_mesh, ALUMINIUM, {"top": FaceColumns("top", "z", -1.0)}, floating=False)
    between = Interface(
        "between",
        UnilateralContact(),
        {"layer": _edges(layer, "under"), "block": _edges(block, "top")},
        np.zeros(elements),
        np.ones(elements),
    )
    joint = assemble([layer, block], [between], outside={"layer": _whole(layer, "on")[:, 0]})
    once, twice = _solved(joint, load=1000.0), _solved(joint, load=2000.0)

    def contact(state: JointState) -> float:
        return radius * float(spacing[int(np.count_nonzero(state.forces > 1e-6))])

    def stress(state: JointState, load: float) -> float:
        map_ = joint.bodies[0].stress["centre"]
        return float(map_.stress(joint.column_forces(0, state.forces, load), np.zeros(1), 1.0)[0, 0])

    return [
        Row("contact radius at twice the load", contact(once), contact(twice), 1e-9, "mm"),
        Row("edge pairs open at the rim, at least 1", 1.0, float(np.sign(np.sum(once.forces <= 0.0))), 0.0, "1"),
        relative("ratio of stresses in the layer", 2.0, stress(twice, 2000.0) / stress(once, 1000.0), 1e-4, "1"),
        relative("ratio of largest pressures", 2.0, float(twice.forces.max() / once.forces.max()), 1e-4, "1"),
        relative("push between the bodies", 1000.0, float(once.forces.sum()), 1e-8, "N"),
    ]


@check(
    "flat-punch",
    subject="contact",
    title="Rigid flat punch on a half space",
    source="Boussinesq; Sneddon 1965; Johnson, Contact Mechanics (1985)",
    status="computed",
    tolerance="1 %",
)
def flat_punch() -> list[Row]:
    """Compare load P = 2 E* a d and the mean of P / (2 pi a sqrt(a^2 - r^2)) over the centre; block of 100 radii."""
    a, depth, far = 4.0, 0.010, 100.0
    modulus = ALUMINIUM[0] / (1.0 - ALUMINIUM[1] ** 2)
    load = 2.0 * modulus * a * depth
    inside = 1.0 - graded(14, 20.0)[::-1]
    outside = 1.0 + (far - 1.0) * graded(22, 400.0)
    lines = np.concatenate([inside, outside[1:]]) / far
    corners = [[0.0, -far * a], [far * a, -far * a], [far * a, 0.0], [0.0, 0.0]]
    down = 1.0 - graded(26, 800.0)[::-1]
    tags = {"south": "bottom", "north": "top"}
    block = Block(corners, (len(lines) - 1, 26), "ring", tags, u_spacing=lines, v_spacing=down)
    mesh = build([block]).with_boundary("pressed", lambda r, z: (z > -1e-9) & (r < a))
    space = _body(
        "space", mesh, ALUMINIUM, {"top": FaceColumns("pressed", "z", -1.0), "foot": FaceColumns("bottom", "z", 1.0)}
    )
    n = len(space.areas["top"])
    punch = Interface("punch", UnilateralContact(), {"space": _edges(space, "top")}, np.zeros(n), np.ones(n))
    joint = assemble(
        [space], [punch, _bonded("foot", {"space": _whole(space, "foot")})], travels={"down": {"punch": -np.ones(n)}}
    )
    heat = _heat(joint, {})
    state = solve_state(joint, start_state(joint, heat), heat, travels={"down": depth})
    share = 1.0 - np.sqrt(1.0 - inside[1] ** 2)  # of the load that lies within the first edge
    return [
        relative("load of the punch", load, float(state.forces[:n].sum()), 0.01, "N"),
        relative("load on the centre", load * share, float(state.forces[0]), 0.01, "N"),
    ]


@check(
    "backed-off-gap",
    subject="contact",
    title="Stud backed off by a quarter turn: heat and cold do not close its gap",
    source="linear expansion of stud and hole, Timoshenko, Strength of Materials, Part I",
    status="computed",
    tolerance="1e-6 mm",
)
def backed_off_gap() -> list[Row]:
    """Compare the gap under a steel stud in an aluminium hole, 20 mm deep, 150 K hotter and colder: M8x1.25."""
    length, gap = 20.0, 1.25 / 4.0
    stud = _bar("bolt", 50.0, length, STEEL)
    hole = _bar("sleeve", 500.0, length, ALUMINIUM, inner=4.5)
    held = _bonded("mouth", {"bolt": _whole(stud, "top"), "sleeve": -_whole(hole, "top")})
    floor = Interface(
        "floor",
        UnilateralContact(),
        {"bolt": _whole(stud, "bottom"), "sleeve": -_whole(hole, "bottom")},
        np.array([gap]),
        np.ones(1),
    )
    joint = assemble([stud, hole], [held, floor])
    rows = []
    for change in (150.0, -150.0):
        state = _solved(joint, {"bolt": STEEL_EXPANSION * change, "sleeve": ALUMINIUM_EXPANSION * change})
        growth = float(differential_growth(ALUMINIUM_EXPANSION - STEEL_EXPANSION, length, change))
        rows.append(Row(f"gap at {change:+g} K", gap + growth, float(state.openings[1]), 1e-6, "mm"))
        rows.append(Row(f"force on the floor at {change:+g} K", 0.0, float(state.forces[1]), 1e-9, "N"))
    return rows
