"""Build the plain records of one setup from its tables: defaults from the stock, cross references resolved."""

from __future__ import annotations

from studwell.case import model
from studwell.case.hole import build_boss
from studwell.case.nut_end import build_nut, build_washer
from studwell.case.overrides import Location, Origin, did_you_mean, nearest
from studwell.case.records import (
    CylinderPressure,
    History,
    Layer,
    Limits,
    Pocket,
    Seating,
    Setup,
    Stud,
    Tightening,
)
from studwell.case.stock import find_class, find_gasket, find_material, find_thread
from studwell.data import assumption
from studwell.parts.gasket import with_thickness
from studwell.units import as_text

BODY_NODES = ("boss", "stud_tip", "stud_top", "nut")
"""The temperature nodes that every setup has, beside those of its layers."""


def build_setup(name: str, tables: model.SetupTables, origin: Origin, all_nodes: frozenset[str]) -> Setup:
    """Return the record of one setup.

    name           : str, of the setup
    tables         : the setup's tables, each value read
    origin         : names the place in the file in errors
    all_nodes      : temperature nodes that the stack of any setup of the case follows
    returns        : Setup; the checks between its fields are not made here
    raises BadCase : a name that is not in stock, a key that this choice of the other keys needs
    """
    stud = _stud(tables, origin)
    stack = tuple(_layer(number, tables, origin) for number in range(len(tables.stack)))
    return Setup(
        name=name,
        boss=build_boss(tables, stud.thread, origin),
        stud=stud,
        stack=stack,
        washers=tuple(build_washer(number, tables, origin) for number in range(len(tables.washer))),
        nut=build_nut(tables, stud.nut_thread, origin),
        seating=_seating(tables.seating, origin),
        tightening=_tightening(tables.tightening, origin),
        history=_history(tables, stack, origin, all_nodes),
        limits=Limits(tables.limits.minimum_clamp, tables.limits.minimum_gasket_pressure),
        pressure=CylinderPressure(tables.pressure.peak, tables.pressure.bore) if tables.pressure else None,
        pocket=Pocket(tables.pocket.contents),
        n_studs=tables.pattern.studs if tables.pattern else 1,
    )


def _stud(tables: model.SetupTables, origin: Origin) -> Stud:
    stud = tables.stud
    thread = find_thread(stud.thread, ("stud", "thread"), origin)
    nut_thread = find_thread(stud.nut_thread, ("stud", "nut_thread"), origin) if stud.nut_thread else thread
    class_material = find_class(stud.property_class, ("stud", "property_class"), origin)
    at = ("stud", "material" if stud.material else "property_class")
    return Stud(
        thread=thread,
        nut_thread=nut_thread,
        property_class=stud.property_class,
        material=find_material(stud.material or class_material, tables.material, at, origin),
        length=stud.length,
        boss_thread_length=stud.boss_thread_length,
        nut_thread_length=stud.nut_thread_length,
        engaged_length=stud.engaged_length,
        tip_diameter=stud.tip_diameter,
        tip_length=stud.tip_length,
        shank=stud.shank,
        shank_diameter=stud.shank_diameter,
        thread_model=stud.thread_model,
        nut_thread_model=stud.nut_thread_model or stud.thread_model,
    )


def _layer(number: int, tables: model.SetupTables, origin: Origin) -> Layer:
    layer = tables.stack[number]
    at: Location = ("stack", number)
    earlier = [other.name for other in tables.stack[:number]]
    if layer.name in earlier:
        raise origin.bad(
            (*at, "name"),
            "another layer of the stack has this name",
            "a name of its own",
            value=layer.name,
            slug="duplicate-name",
        )
    if (layer.material is None) == (layer.gasket is None):
        problem = "give material or gasket, not both" if layer.material else "give material or gasket"
        raise origin.bad((*at, "material"), problem, "one of the two", slug="missing-key")
    if layer.gasket is not None:
        gasket = find_gasket(layer.gasket, (*at, "gasket"), origin)
        if layer.thickness is not None:
            gasket = with_thickness(gasket, layer.thickness)
        return Layer(layer.name, gasket.thickness, layer.outer_diameter, layer.inner_diameter, layer.node, None, gasket)
    assert layer.material is not None
    if layer.thickness is None:
        raise origin.needs((*at, "thickness"), "material", 'a length with its unit, such as "8 mm"')
    material = find_material(layer.material, tables.material, (*at, "material"), origin)
    return Layer(layer.name, layer.thickness, layer.outer_diameter, layer.inner_diameter, layer.node, material, None)


def _seating(seating: model.SeatingTable, origin: Origin) -> Seating:
    backed_off = seating.mode == "backed off"
    if backed_off and seating.back_off is None:
        raise origin.needs(("seating", "back_off"), 'mode = "backed off"', '"0.22 turn" or "80 deg"')
    if backed_off and seating.counted_from is None:
        raise origin.needs(("seating", "counted_from"), 'mode = "backed off"', '"first contact" or "driven seat"')
    if not backed_off and seating.torque is None:
        raise origin.needs(("seating", "torque"), 'mode = "bottomed"', 'a torque, such as "10 N*m"')
    if backed_off and seating.counted_from == "driven seat" and seating.torque is None:
        raise origin.needs(("seating", "torque"), 'counted_from = "driven seat"', 'a torque, such as "10 N*m"')
    if not backed_off and seating.back_off is not None:
        raise origin.excludes(("seating", "back_off"), 'mode = "bottomed"')
    return Seating(
        mode=seating.mode,
        torque=seating.torque,
        turns=seating.back_off or 0.0,
        counted_from=seating.counted_from or "driven seat",
        thread_friction=seating.thread_friction,
        tip_friction=seating.tip_friction,
        seat=seating.seat,
        lock_torque=seating.lock_torque,
    )


def _tightening(tightening: model.TighteningTable, origin: Origin) -> Tightening:
    if (tightening.torque is None) == (tightening.preload is None):
        problem = "give torque or preload, not both" if tightening.torque else "give torque or preload"
        raise origin.bad(("tightening", "torque"), problem, "one of the two", slug="missing-key")
    if tightening.nut_factor is not None and tightening.torque is None:
        raise origin.needs(("tightening", "torque"), "nut_factor", 'a torque, such as "12 lbf*ft"')
    return Tightening(
        torque=tightening.torque,
        preload=tightening.preload,
        thread_friction=tightening.thread_friction,
        bearing_friction=tightening.bearing_friction,
        nut_factor=tightening.nut_factor,
        locked_torsion_share=(
            assumption("locked_torsion_share")
            if tightening.locked_torsion_share is None
            else tightening.locked_torsion_share
        ),
    )


def _history(tables: model.SetupTables, stack: tuple[Layer, ...], origin: Origin, all_nodes: frozenset[str]) -> History:
    history = tables.history
    wanted = tuple(dict.fromkeys([*BODY_NODES, *(layer.node for layer in stack)]))
    for number, point in enumerate(history.point):
        at: Location = ("history", "point", number)
        missing = [node for node in wanted if node not in point.nodes]
        strange = [node for node in point.nodes if node not in wanted and node not in all_nodes]
        for node in strange:
            if not missing or nearest(node, missing):
                hint, allowed = did_you_mean(node, missing or [*wanted, "time", "label"])
                raise origin.bad((*at, node), f"no such temperature node{hint}", allowed, slug="unknown-key")
        for node in missing:
            users = [layer.name for layer in stack if layer.node == node and node not in BODY_NODES]
            of = f' of layer "{users[0]}"' if users else ""
            raise origin.bad(
                (*at, node),
                f"the node{of} has no temperature here",
                'a temperature, such as "20 degC"',
                slug="missing-key",
            )
        earlier = history.point[number - 1].time
        if number and point.time <= earlier:
            raise origin.bad(
                (*at, "time"),
                "time does not grow from point to point",
                f"more than {as_text(earlier, 'time')}",
                value=origin.given((*at, "time")),
                slug="time-order",
            )
    if history.steps < len(history.point) - 1:
        raise origin.bad(
            ("history", "steps"),
            "fewer steps than stretches between points",
            f"at least {len(history.point) - 1}",
            value=history.steps,
            slug="out-of-range",
        )
    return History(
        assembly_temperature=history.assembly_temperature,
        times=tuple(point.time for point in history.point),
        labels=tuple(point.label for point in history.point),
        node_names=wanted,
        temperatures=tuple(tuple(point.nodes[node] for point in history.point) for node in wanted),
        steps=history.steps,
    )
