"""Checks of the whole joint: signs of heat, equilibrium in every state, condensed against full-order path."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from studwell.case import Setup, case_from_text, starter_case
from studwell.data import assumption
from studwell.history.heat import HeatModel
from studwell.history.stages import HistoryResult, live_through
from studwell.joint.build import BuiltJoint, build_joint
from studwell.joint.forces import forces_of
from studwell.joint.full import FullJoint, condensed_displacement
from studwell.joint.solve import solve_state
from studwell.joint.state import Heat, JointState
from studwell.joint.whole import FullState
from studwell.parts.fastener import property_class
from studwell.verify.registry import Row, check

Array = np.ndarray

REFINEMENT = 0.4
"""Mesh density of these checks: balance and signs do not wait for a fine mesh."""

ELASTIC = 1e5
"""MPa, a yield strength that no state reaches."""

SETUPS = """
[setup."backed off, two disc springs in parallel"]
seating = { mode = "backed off", back_off = "0.22 turn", counted_from = "first contact" }
washer = [
    { kind = "plain", size = "M8" },
    { kind = "spring", size = "DIN 2093 A 16x8.2x0.9", parallel = 2 },
]

[setup."on a drill cone, bonded thread"]
boss = { hole_end = "cone", cone_angle = "118 deg", thread_depth = "15 mm" }
stud = { thread_model = "bonded", nut_thread_model = "bonded" }

[setup."under cylinder pressure"]
pressure = { peak = "5 MPa", bore = "60 mm" }
pattern = { studs = 4 }

[setup."bottomed, boss yields"]
boss = { floor_thickness = "6 mm" }
inelastic = { zone = "boss" }

[setup."tightened beyond yield"]
tightening = { torque = "30 N*m" }
"""


@cache
def _setups() -> Mapping[str, Setup]:
    """The starter case's setups and some more, with few history steps."""
    case = case_from_text(starter_case("M8") + SETUPS, "starter case")
    return {s.name: replace(s, history=replace(s.history, steps=6)) for s in case.setups}


def _strengths(setup: Setup) -> tuple[float, float]:
    strength = property_class(setup.stud.property_class, setup.stud.thread.nominal_diameter)
    return strength.yield_strength, strength.ultimate_strength


def _built(setup: Setup, tip_friction: float = 0.0, refinement: float = REFINEMENT) -> BuiltJoint:
    low, high = _strengths(setup)
    return build_joint(
        setup,
        yield_strength=low,
        ultimate_strength=high,
        hardening_strain=assumption("stud_hardening_strain"),
        refinement=refinement,
        tip_friction=tip_friction,
    )


def _lived(built: BuiltJoint, yield_strength: float, **options: object) -> HistoryResult:
    return live_through(
        built.setup,
        built.layout,
        built.bodies,
        built.joint,
        built.seat,
        yield_strength=yield_strength,
        **options,  # type: ignore[arg-type]
    )


@dataclass(frozen=True)
class _Bench:
    """A seated and a tightened elastic joint that can be heated node by node."""

    built: BuiltJoint
    seated: JointState
    assembled: JointState

    def heat(self, changes: Mapping[str, float]) -> Heat:
        """Thermal state with some nodes warmer (K) than at assembly."""
        history = self.built.setup.history
        at = history.assembly_temperature
        nodes = np.array([at + changes.get(name, 0.0) for name in history.node_names])
        weights = np.zeros(len(nodes))
        weights[history.node_names.index("stud_top")] = 1.0
        model = HeatModel(
            self.built.layout, self.built.bodies, self.built.joint, history.node_names, at, weights, ELASTIC
        )
        return model.state(nodes)

    def tip(self, changes: Mapping[str, float]) -> float:
        """Tip force with the nut off, N."""
        state = solve_state(self.built.joint, self.seated, self.heat(changes))
        return float(self.built.joint.axial_load("tip", state.forces))

    def clamp(self, changes: Mapping[str, float]) -> float:
        """Clamp with the nut on, N."""
        state = solve_state(self.built.joint, self.assembled, self.heat(changes))
        return float(forces_of(self.built.joint, [state]).clamp[0])


@cache
def _bottomed() -> _Bench:
    setup = _setups()["bottomed"]
    short = replace(setup, history=replace(setup.history, steps=2))
    built = _built(short)
    history = _lived(built, ELASTIC)
    return _Bench(built, history.seated, history.run[0])


STUD = ("stud_tip", "stud_top")
HEATING = 80.0


def _even(nodes: tuple[str, ...], change: float) -> dict[str, float]:
    return dict.fromkeys(nodes, change)


@check(
    "signs-of-heat",
    subject="joint",
    title="What heat does to a bottomed steel stud in an aluminium boss",
    source="differential expansion in series: the part that grows more than its partner closes or opens the contact",
    status="computed",
    tolerance="sign",
)
def signs_of_heat() -> list[Row]:
    """Compare the sign of each change, elastic, pocket empty, tip closed: nut off for the tip, nut on for the clamp."""
    bench = _bottomed()
    off = [
        ("boss and stud heated", ("boss", *STUD), HEATING, -1.0),
        ("boss and stud cooled", ("boss", *STUD), -HEATING, 1.0),
        ("boss alone heated", ("boss",), HEATING, -1.0),
        ("boss alone cooled", ("boss",), -HEATING, 1.0),
        ("stud alone heated", STUD, HEATING, 1.0),
        ("stud alone cooled", STUD, -HEATING, -1.0),
    ]
    on = [("stack alone heated", HEATING, 1.0), ("stack alone cooled", -HEATING, -1.0)]
    tip, clamp = bench.tip({}), bench.clamp({})
    rows = []
    for name, nodes, change, sign in off:
        found = float(np.sign(bench.tip(_even(nodes, change)) - tip))
        rows.append(Row(f"tip force, nut off, {name}: sign of change", sign, found, 0.0, "1"))
    for name, change, sign in on:
        found = float(np.sign(bench.clamp(_even(("barrel", "head"), change)) - clamp))
        rows.append(Row(f"clamp, nut on, {name}: sign of change", sign, found, 0.0, "1"))
    rows.append(Row("tip closed while it is compared: sign of its force", 1.0, float(np.sign(tip)), 0.0, "1"))
    return rows


@check(
    "equilibrium",
    subject="joint",
    title="Balance of tension, clamp, tip and thread load in every state",
    source="statics of the stud, the nut and the stack: C = S - outside load, L = S + W",
    status="computed",
    tolerance="1e-8 of the largest force",
)
def equilibrium() -> list[Row]:
    """Compare the largest imbalance over seating, tightening and heat history with zero, setup by setup."""
    rows = []
    for name, setup in _setups().items():
        built = _built(setup)
        history = _lived(built, _strengths(setup)[0])
        groups = [history.seated_forces, history.tightening_forces, history.run_forces]
        if history.pressurised_forces is not None:
            groups.append(history.pressurised_forces)
        rows.append(Row(f"imbalance, {name}", 0.0, max(float(g.balance.max()) for g in groups), 1e-8, "1"))
        rows.append(Row(f"law missed, {name}", 0.0, max(float(g.complementarity.max()) for g in groups), 1e-8, "1"))
    return rows


def difference(built: BuiltJoint, yield_strength: float, constant_modulus: bool) -> dict[str, float]:
    """Return the largest differences between condensed and full-order path over a setup's whole history.

    Clamp, tip force and tension (the full path's from its own stresses) relative to the largest force of the history;
    displacement of every body relative to the largest displacement of any; plastic stretch relative to its largest.
    """
    full = FullJoint(built.joint, [body.spec for body in built.bodies])
    ours = _lived(built, yield_strength, constant_modulus=constant_modulus)
    theirs = _lived(built, yield_strength, constant_modulus=constant_modulus, solver=full.solver)
    pairs = list(zip(_states(ours), _states(theirs), strict=True))
    a, b = (forces_of(built.joint, states) for states in zip(*pairs, strict=True))
    scale = float(np.max(np.abs([a.tension, a.clamp, a.tip, a.thread])))
    section = np.array([state.tension for _, state in pairs if isinstance(state, FullState)])
    moved, apart = 1e-300, 0.0
    for ours_state, full_state in pairs:
        if not isinstance(full_state, FullState):
            raise TypeError("the full path must return full states")
        for index, body in enumerate(built.bodies):
            if _touched(built, ours_state, index):
                u = condensed_displacement(built.joint, ours_state, body.spec.name)
                moved = max(moved, float(np.max(np.abs(u))))
                apart = max(apart, float(np.max(np.abs(u - full_state.displacements[index]))))
    stretched = max(1e-12, max(abs(s.stretch) for s, _ in pairs))
    return {
        "clamp": float(np.max(np.abs(a.clamp - b.clamp))) / scale,
        "tip force": float(np.max(np.abs(a.tip - b.tip))) / scale,
        "tension": float(np.max(np.abs(a.tension - section))) / scale,
        "displacement": apart / moved,
        "plastic stretch": max(abs(s.stretch - t.stretch) for s, t in pairs) / stretched,
    }


def _states(history: HistoryResult) -> list[JointState]:
    return [history.seated, *history.tightening, *history.run, *history.pressurised]


def _touched(built: BuiltJoint, state: JointState, body: int) -> bool:
    """Whether anything presses on a body: a loose one lies anywhere."""
    columns = built.joint.column_forces(body, state.forces, state.outside_load)
    return bool(np.max(np.abs(columns), initial=0.0) > 1.0)


@check(
    "full-order-elastic",
    subject="joint",
    title="Condensed joint against the whole sparse system: elastic, no friction, constant moduli",
    source="static condensation is exact for linear bodies; both paths share only meshes and laws",
    status="computed",
    tolerance="1e-8",
)
def full_order_elastic() -> list[Row]:
    """Compare clamp, tip force, tension and displacements of both paths over whole histories."""
    rows = []
    for name in ("bottomed", "backed off", "on a drill cone, bonded thread", "under cylinder pressure"):
        found = difference(_built(_setups()[name]), ELASTIC, constant_modulus=True)
        rows += [Row(f"{what}, {name}", 0.0, value, 1e-8, "1") for what, value in found.items()]
    return rows


@check(
    "full-order-nonlinear",
    subject="joint",
    title="Condensed joint against the whole sparse system: moduli with temperature, friction, yield",
    source="static condensation is exact for linear bodies; both paths share only meshes and laws",
    status="computed",
    tolerance="1e-6",
    slow=True,
)
def full_order_nonlinear() -> list[Row]:
    """Compare both paths with falling moduli, spring friction, tip friction and a shank beyond yield."""
    rows = []
    for name in ("backed off, two disc springs in parallel", "tightened beyond yield", "bottomed"):
        setup = _setups()[name]
        friction = setup.seating.tip_friction if name == "bottomed" else 0.0
        found = difference(_built(setup, tip_friction=friction), _strengths(setup)[0], constant_modulus=False)
        label = f"{name}, tip with friction" if friction else name
        rows += [Row(f"{what}, {label}", 0.0, value, 1e-6, "1") for what, value in found.items()]
    return rows


@check(
    "full-order-flowing",
    subject="joint",
    title="Condensed joint whose boss yields against the whole sparse system with the same yielding",
    source="Betti's reciprocal theorem: inelastic strain acts on the ports as the openings that it makes",
    status="computed",
    tolerance="1e-6",
    slow=True,
)
def full_order_flowing() -> list[Row]:
    """Compare port forces and plastic strain of both paths over a whole history."""
    setup = _setups()["bottomed, boss yields"]
    built = _built(replace(setup, history=replace(setup.history, steps=3)), refinement=0.1)
    full = FullJoint(built.joint, [body.spec for body in built.bodies])
    strength = _strengths(setup)[0]
    pairs = list(
        zip(_states(_lived(built, strength)), _states(_lived(built, strength, solver=full.solver)), strict=True)
    )
    scale = max(float(np.max(np.abs(theirs.forces))) for _, theirs in pairs)
    apart = max(float(np.max(np.abs(ours.forces - theirs.forces))) for ours, theirs in pairs)
    strains = [(a.flow.plastic["boss"], b.flow.plastic["boss"]) for a, b in pairs if a.flow and b.flow]
    largest = max(b for _, b in strains)
    if not largest > 1e-3:
        raise ValueError("the boss of this check must yield")
    return [
        Row("port forces", 0.0, apart / scale, 1e-6, "1"),
        Row("plastic strain", 0.0, max(abs(a - b) for a, b in strains) / largest, 1e-6, "1"),
    ]
