"""Build the plain records of one setup from its tables: defaults from the stock, cross references resolved."""

from __future__ import annotations

from studwell.case import model
from studwell.case.crack import build_crack
from studwell.case.heat import Elsewhere, build_history, build_thermal
from studwell.case.hole import build_boss
from studwell.case.nut_end import build_nut, build_washer
from studwell.case.overrides import Location, Origin
from studwell.case.pocket import build_pocket
from studwell.case.records import (
    CylinderPressure,
    Layer,
    Limits,
    Seating,
    Setup,
    Stud,
    Tightening,
)
from studwell.case.review import review_of
from studwell.case.service import build_inelastic, build_retighten, build_settling
from studwell.case.stock import find_class, find_gasket, find_material, find_thread
from studwell.case.workshop import build_repair, build_threadlocker
from studwell.data import assumption
from studwell.parts.gasket import with_conductivity, with_thickness


def build_setup(name: str, tables: model.SetupTables, origin: Origin, elsewhere: Elsewhere) -> Setup:
    """Return the record of one setup.

    name           : str, of the setup
    tables         : the setup's tables, each value read
    origin         : names the place in the file in errors
    elsewhere      : names that any setup of the case uses
    returns        : Setup; the checks between its fields are not made here
    raises BadCase : a name that is not in stock, a key that this choice of the other keys needs
    """
    stud = _stud(tables, origin)
    stack = tuple(_layer(number, tables, origin) for number in range(len(tables.stack)))
    history = build_history(tables, stack, origin, elsewhere)
    return Setup(
        name=name,
        boss=build_boss(tables, stud.thread, origin),
        stud=stud,
        stack=stack,
        washers=tuple(build_washer(number, tables, origin) for number in range(len(tables.washer))),
        nut=build_nut(tables, stud.nut_thread, origin),
        seating=_seating(tables.seating, origin),
        tightening=_tightening(tables.tightening, origin),
        history=history,
        limits=Limits(tables.limits.minimum_clamp, tables.limits.minimum_gasket_pressure),
        pressure=CylinderPressure(tables.pressure.peak, tables.pressure.bore) if tables.pressure else None,
        pocket=build_pocket(tables, origin),
        n_studs=tables.pattern.studs if tables.pattern else 1,
        thermal=build_thermal(tables, stack, origin, elsewhere),
        settling=build_settling(tables, stack, origin, elsewhere),
        retighten=build_retighten(tables, history, origin),
        inelastic=build_inelastic(tables, stack, origin),
        repair=build_repair(tables),
        crack=build_crack(tables),
        review=None if tables.review is None else review_of(tables.review),
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
        thread_clearance=stud.thread_clearance,
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
    if layer.node is None and tables.history.phase is None:
        raise origin.needs((*at, "node"), "[[history.point]]", "a temperature node of its points")
    node = layer.node or ""
    if layer.gasket is not None:
        gasket = find_gasket(layer.gasket, (*at, "gasket"), origin)
        if layer.thickness is not None:
            gasket = with_thickness(gasket, layer.thickness)
        if layer.conductivity is not None:
            gasket = with_conductivity(gasket, layer.conductivity)
        return Layer(layer.name, gasket.thickness, layer.outer_diameter, layer.inner_diameter, node, None, gasket)
    assert layer.material is not None
    if layer.conductivity is not None:
        raise origin.excludes((*at, "conductivity"), "material, which has its own: [material.NAME] changes it")
    if layer.thickness is None:
        raise origin.needs((*at, "thickness"), "material", 'a length with its unit, such as "8 mm"')
    material = find_material(layer.material, tables.material, (*at, "material"), origin)
    return Layer(layer.name, layer.thickness, layer.outer_diameter, layer.inner_diameter, node, material, None)


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
        threadlocker=build_threadlocker(seating, origin),
    )


def _tightening(tightening: model.TighteningTable, origin: Origin) -> Tightening:
    if (tightening.torque is None) == (tightening.preload is None):
        if tightening.torque is None:
            raise origin.bad(("tightening", "torque"), "give torque or preload", "one of the two", slug="missing-key")
        raise origin.bad(("tightening", "torque"), "give torque or preload, not both", "one of the two")
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
