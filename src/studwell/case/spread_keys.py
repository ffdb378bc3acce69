"""What of a setup may be spread: each key's kind, how it is read from a setup and put into one, and what it moves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from studwell.case.records import Case, Setup, SpringWasher
from studwell.parts.gasket import with_thickness
from studwell.parts.material import Curve

Effect = Literal["load", "limit", "spring", "geometry", "crack"]

REFERENCE = 20.0
"""degC at which strengths of the data are stated."""


@dataclass(frozen=True)
class SpreadKey:
    """One key that may be spread.

    kind   : a kind of quantity, or "number" for a bare one
    get    : setup -> its own value, None where the setup has no such value
    put    : (setup, value) -> the setup with that value
    least  : no draw may be below it; above: nor at it;  most: nor above this
    effect : "load" and "limit" keep the section as it is, "spring" the law of spring washers and next to nothing else,
             "geometry" needs another mesh, "crack" moves cracks alone
    """

    name: str
    kind: str
    get: Callable[[Setup], float | None] = field(repr=False)
    put: Callable[[Setup, float], Setup] = field(repr=False)
    effect: Effect = "load"
    least: float | None = 0.0
    above: bool = True
    most: float | None = None

    def allows(self, value: float) -> bool:
        """True if the setup may have this value."""
        if self.most is not None and value > self.most:
            return False
        return self.least is None or value > self.least or (value == self.least and not self.above)


def spread_keys(case: Case) -> dict[str, SpreadKey]:
    """Return all keys that some setup of a case may spread, by name."""
    found: dict[str, SpreadKey] = {key.name: key for key in _FIXED}
    for setup in case.setups:
        for layer in setup.stack:
            name = f"stack.{layer.name}.thickness"
            found.setdefault(name, _layer_thickness(name, layer.name))
        if not setup.history.phases:
            found.setdefault("history.offset", _offset(None))
            found.setdefault("history.scale", _scale(None))
            for node in setup.history.node_names:
                for key in (_offset(node), _scale(node)):
                    found.setdefault(key.name, key)
    return found


def _at(table: str, name: str) -> Callable[[Setup], float | None]:
    def get(setup: Setup) -> float | None:
        record = getattr(setup, table)
        return None if record is None else getattr(record, name)

    return get


def _into(table: str, name: str) -> Callable[[Setup, float], Setup]:
    def put(setup: Setup, value: float) -> Setup:
        return replace(setup, **{table: replace(getattr(setup, table), **{name: value})})

    return put


def _plain(table: str, name: str, kind: str, effect: Effect = "load", key: str = "", **limits: Any) -> SpreadKey:
    return SpreadKey(f"{table}.{key or name}", kind, _at(table, name), _into(table, name), effect, **limits)


def _back_off(setup: Setup) -> float | None:
    return setup.seating.turns if setup.seating.mode == "backed off" else None


def _driven(name: str) -> Callable[[Setup], float | None]:
    def get(setup: Setup) -> float | None:
        return getattr(setup.seating, name) if setup.seating.torque else None

    return get


def _embedding_tip(setup: Setup) -> float | None:
    return setup.settling.tip if setup.settling is not None and setup.seating.mode == "bottomed" else None


def _strength(name: str) -> SpreadKey:
    """A strength of the boss at room temperature; its fall with temperature keeps its shape."""

    def get(setup: Setup) -> float | None:
        value = getattr(setup.boss.material, name)
        return value if value is None or isinstance(value, float) else float(value.at(REFERENCE))

    def put(setup: Setup, value: float) -> Setup:
        material = setup.boss.material
        curve = getattr(material, name)
        if isinstance(curve, Curve):
            factor = value / float(curve.at(REFERENCE))
            changed: Any = Curve(curve.temperatures, tuple(factor * each for each in curve.values))
        else:
            changed = value
        return replace(setup, boss=replace(setup.boss, material=replace(material, **{name: changed})))

    kind = "toughness" if name == "fracture_toughness" else "pressure"
    effect: Effect = "limit" if name in ("ultimate_strength", "bearing_pressure_limit") else "crack"
    return SpreadKey(f"boss.{name}", kind, get, put, effect)


MOST_EDGE, MOST_SURFACE = 0.3, 0.06
"""Most that friction at the edges, and at each face between nested spring washers, may take of their force: so that the
two together stay well below all of it. Our own choice."""


def _spring(name: str, field_name: str, kind: str = "length", **limits: Any) -> SpreadKey:
    """A size or a friction of every spring washer of a setup: they are of one batch."""

    def get(setup: Setup) -> float | None:
        nested = [spring for spring in setup.springs if spring.parallel > 1 or field_name != "surface_friction"]
        own = {getattr(spring, field_name) for spring in nested}
        return own.pop() if len(own) == 1 else None

    def put(setup: Setup, value: float) -> Setup:
        changed: dict[str, Any] = {field_name: value}
        washers = (replace(each, **changed) if isinstance(each, SpringWasher) else each for each in setup.washers)
        return replace(setup, washers=tuple(washers))

    return SpreadKey(f"washer.{name}", kind, get, put, "spring", **limits)


def _layer_thickness(name: str, layer_name: str) -> SpreadKey:
    def get(setup: Setup) -> float | None:
        return next((layer.thickness for layer in setup.stack if layer.name == layer_name), None)

    def put(setup: Setup, value: float) -> Setup:
        stack = []
        for layer in setup.stack:
            if layer.name == layer_name:
                gasket = None if layer.gasket is None else with_thickness(layer.gasket, value)
                layer = replace(layer, thickness=value, gasket=gasket)
            stack.append(layer)
        return replace(setup, stack=tuple(stack))

    return SpreadKey(name, "length", get, put, "geometry")


def _moved(setup: Setup, node: str | None, change: Callable[[float], float]) -> Setup:
    """A setup whose temperatures away from the assembly temperature are changed, at one node or at all."""
    history = setup.history
    rows = []
    for name, row in zip(history.node_names, history.temperatures, strict=True):
        mine = node is None or name == node
        rows.append(tuple(change(t) if mine and t != history.assembly_temperature else t for t in row))
    return replace(setup, history=replace(history, temperatures=tuple(rows)))


def _offset(node: str | None) -> SpreadKey:
    """Kelvins added to a node's temperatures at every point where it is not at the assembly temperature."""

    def get(setup: Setup) -> float | None:
        return 0.0 if not setup.history.phases and (node is None or node in setup.history.node_names) else None

    def put(setup: Setup, value: float) -> Setup:
        return _moved(setup, node, lambda t: t + value)

    name = "history.offset" if node is None else f"history.{node}.offset"
    return SpreadKey(name, "temperature_difference", get, put, "load", least=None)


def _scale(node: str | None) -> SpreadKey:
    """A factor on how far a node's temperatures are from the assembly temperature."""

    def get(setup: Setup) -> float | None:
        return 1.0 if not setup.history.phases and (node is None or node in setup.history.node_names) else None

    def put(setup: Setup, value: float) -> Setup:
        cold = setup.history.assembly_temperature
        return _moved(setup, node, lambda t: cold + value * (t - cold))

    name = "history.scale" if node is None else f"history.{node}.scale"
    return SpreadKey(name, "number", get, put, "load", least=0.0, above=False)


_FIXED = (
    _plain("tightening", "torque", "torque"),
    _plain("tightening", "preload", "force"),
    _plain("tightening", "thread_friction", "number", most=1.0, above=False),
    _plain("tightening", "bearing_friction", "number", most=1.0, above=False),
    _plain("tightening", "nut_factor", "number", most=2.0),
    _plain("tightening", "locked_torsion_share", "number", most=1.0, above=False),
    _plain("seating", "torque", "torque"),
    SpreadKey("seating.back_off", "turn", _back_off, _into("seating", "turns")),
    _plain("seating", "thread_friction", "number", most=1.0, above=False),
    SpreadKey("seating.tip_friction", "number", _driven("tip_friction"), _into("seating", "tip_friction"),
              most=1.0, above=False),
    _plain("seating", "lock_torque", "torque", above=False),
    _plain("settling", "thread", "length", key="embedding_thread", above=False),
    _plain("settling", "bearing", "length", key="embedding_bearing", above=False),
    _plain("settling", "inner", "length", key="embedding_inner", above=False),
    SpreadKey("settling.embedding_tip", "length", _embedding_tip, _into("settling", "tip"), above=False),
    _plain("pressure", "peak", "pressure", above=False),
    _plain("limits", "minimum_clamp", "force", "limit"),
    _strength("ultimate_strength"),
    _strength("bearing_pressure_limit"),
    _strength("fracture_toughness"),
    _strength("fatigue_strength"),
    _plain("boss", "floor_thickness", "length", "geometry"),
    _plain("boss", "hole_depth", "length", "geometry"),
    _plain("boss", "thread_depth", "length", "geometry"),
    _plain("boss", "outer_diameter", "length", "geometry"),
    _plain("boss", "corner_radius", "length", "geometry"),
    _plain("stud", "length", "length", "geometry"),
    _plain("stud", "engaged_length", "length", "geometry"),
    _plain("stud", "shank_diameter", "length", "geometry"),
    _spring("spring_thickness", "thickness"),
    _spring("cone_height", "cone_height"),
    _spring("edge_friction", "edge_friction", "number", most=MOST_EDGE, above=False),
    _spring("surface_friction", "surface_friction", "number", most=MOST_SURFACE, above=False),
    _plain("crack", "flaw", "length", "crack"),
)  # fmt: skip


def key_patterns() -> tuple[SpreadKey, ...]:
    """Return every key that a case may spread, LAYER and NODE standing for names of its own."""
    named = (
        _layer_thickness("stack.LAYER.thickness", "LAYER"),
        _offset(None),
        _scale(None),
        _offset("NODE"),
        _scale("NODE"),
    )
    return (*_FIXED, *named)


def own_value(key: SpreadKey, setup: Setup) -> float | None:
    """Return a setup's own value of a key, None where it has none."""
    value = key.get(setup)
    return None if value is None else float(value)
