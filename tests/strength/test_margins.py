import re
from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from studwell.parts.fastener import proof_load
from studwell.show.both_units import in_system
from studwell.strength.verdict import mode_names
from studwell.study.compare import solve_setup
from studwell.units import as_text


def test_every_mode_is_judged_or_named_unknown_with_its_reason(comparison):
    for result in comparison.results:
        assert set(result.verdict.margins) == set(mode_names())
        for margin in result.verdict.margins.values():
            if margin.value is None:
                assert margin.reason, margin.mode


def test_a_setup_with_unknown_damage_modes_is_never_called_safe(comparison):
    for result in comparison.results:
        unknown = [m for m in result.verdict.margins.values() if m.unknown and m.kind == "damage"]
        assert not (unknown and result.verdict.safe)
    assert any(result.verdict.safe is None for result in comparison.results)


def test_governing_is_the_largest_known_damage_margin(comparison):
    for result in comparison.results:
        known = {m.mode: m.value for m in result.verdict.margins.values() if m.kind == "damage" and m.value is not None}
        assert known[result.verdict.governing] == max(known.values())


def test_stud_proof_margin_is_tension_over_the_classes_proof_load(comparison):
    # ISO 898-1:2013, proof stress times stress area
    for result in comparison.results:
        stud = result.setup.stud
        expected = result.value("stud_tension_max") / proof_load(stud.nut_thread, stud.property_class)
        assert result.verdict.margins["stud proof"].value == approx(expected, abs=1e-12)


def test_strip_margin_of_the_boss_uses_the_least_shear_area_of_the_tolerance_class(comparison):
    # FED-STD-H28 with the limits of M8 6g/6H: 16.829 mm2 a millimetre; 0.6 of the tensile strength, Alexander 1977
    result = comparison["bottomed, plain"]
    margin = result.verdict.margins["boss thread strip"]
    hot = np.interp(110.0, [100.0, 150.0], [218.55, 192.7])
    assert margin.when.startswith("hot")
    assert margin.capacity == approx(16.829 * 12.0 * 0.6 * hot, rel=1e-4)
    assert margin.load == approx(result.value("thread_load_max"))


def test_backing_off_costs_engaged_thread_in_the_strip_margin(comparison):
    on, off = comparison["bottomed, plain"], comparison["backed off, plain"]
    lost = on.verdict.margins["boss thread strip"].capacity / off.verdict.margins["boss thread strip"].capacity
    assert lost == approx(12.0 / (12.0 - 0.275), rel=1e-6)


def test_the_leak_margin_is_unbounded_without_clamp_and_unknown_without_a_need(hut_pump):
    setup = hut_pump.setup("backed off, plain")
    bare = replace(setup, stack=setup.stack[1:], limits=replace(setup.limits, minimum_clamp=None))
    result = solve_setup(bare, refinement=0.4, band=False)
    leak = result.verdict.margins["leak"]
    assert leak.value is None and "not known" in leak.reason
    assert leak.unknown


def test_hold_is_one_when_both_threads_rub_alike_and_nothing_else_holds(hut_pump):
    # the same long form on both threads: derived in joint.torques.hold_ratio
    setup = hut_pump.setup("backed off, plain")
    alike = replace(setup, seating=replace(setup.seating, thread_friction=setup.tightening.thread_friction))
    locked = replace(alike, seating=replace(alike.seating, lock_torque=5000.0))
    assert solve_setup(alike, refinement=0.4, band=False).verdict.margins["hold"].value == approx(1.0, rel=1e-9)
    assert solve_setup(locked, refinement=0.4, band=False).verdict.margins["hold"].value < 0.75


def test_an_alloy_without_a_known_toughness_gets_no_crack_margin(hut_pump):
    from studwell.parts.material import stock_material

    setup = hut_pump.setup("bottomed, plain")
    other = replace(setup, boss=replace(setup.boss, material=stock_material("a380 die cast")))
    margin = solve_setup(other, refinement=0.4, band=False).verdict.margins["boss crack (once)"]
    assert margin.value is None
    assert "toughness" in margin.reason


def test_bottoming_raises_the_static_crack_margin(comparison):
    on = comparison["bottomed, plain"].verdict
    off = comparison["backed off, plain"].verdict
    assert on.margins["boss crack (once)"].value > off.margins["boss crack (once)"].value
    corners = [verdict.cracks.distance("floor corner").once for verdict in (on, off)]
    assert corners[0].value > 2.0 * corners[1].value


def test_a_thin_floor_is_nearer_to_cracking_than_a_thick_one(hut_pump):
    setup = hut_pump.setup("bottomed, plain")
    values = []
    for floor in (14.0, 6.0, 3.0):
        thin = replace(setup, boss=replace(setup.boss, floor_thickness=floor))
        values.append(solve_setup(thin, refinement=0.5, band=False).value("floor_stress_max"))
    assert values[0] < values[1] < values[2]


def test_a_floor_thinner_than_the_method_holds_for_is_never_passed(hut_pump):
    setup = hut_pump.setup("bottomed, plain")
    for floor in (2.5, 1.5, 1.0):
        thin = replace(setup, boss=replace(setup.boss, floor_thickness=floor))
        result = solve_setup(thin, refinement=0.5, band=False)
        margin = result.verdict.margins["boss crack (once)"]
        assert margin.value is None or margin.value >= 1.0, floor
        if margin.value is None:
            assert "thinner than twice the critical distance" in margin.reason


def test_the_studs_yield_margin_does_not_depend_on_where_its_nut_thread_begins(hut_pump):
    # the first engaged thread carries the whole tension on its stress area, however short the free thread is
    setup = hut_pump.setup("backed off, plain")
    values = []
    for length in (24.0, 19.0, 18.0):
        changed = replace(setup, stud=replace(setup.stud, nut_thread_length=length))
        result = solve_setup(changed, refinement=0.4, band=False)
        assert result.built.layout.stretch_area == approx(36.609, abs=1e-3)
        values.append(result.verdict.margins["stud yield"].value)
    assert max(values) < 1.05 * min(values)


def test_a_waisted_shank_is_the_weakest_length(hut_pump):
    setup = hut_pump.setup("backed off, plain")
    waisted = replace(setup, stud=replace(setup.stud, shank="waisted", shank_diameter=6.0))
    result = solve_setup(waisted, refinement=0.4, band=False)
    assert result.built.layout.stretch_name == "shank"
    assert result.verdict.margins["stud yield"].value > 0.9
    assert result.equilibrium_residual < 1e-8


def test_a_tip_on_a_spot_crushes_its_seat(hut_pump):
    setup = hut_pump.setup("bottomed, plain")
    wide = solve_setup(setup, refinement=0.4, band=False).verdict.margins["tip crushing"]
    narrow = solve_setup(
        replace(setup, stud=replace(setup.stud, tip_diameter=3.0)), refinement=0.4, band=False
    ).verdict.margins["tip crushing"]
    assert narrow.value > 2.5 * wide.value
    assert wide.load == approx(9120.0 / (np.pi / 4 * 5.5**2), rel=1e-3)


@pytest.mark.parametrize(("torque", "seating"), [(60_000.0, 10_000.0), (16_000.0, 70_000.0)])
def test_a_stud_that_breaks_leaves_no_state(torque, seating, hut_pump):
    from studwell.errors import Unknown

    setup = hut_pump.setup("bottomed, plain")
    hard = replace(
        setup,
        tightening=replace(setup.tightening, torque=torque),
        seating=replace(setup.seating, torque=seating),
    )
    with pytest.raises(Unknown, match="the stud breaks"):
        solve_setup(hard, refinement=0.4, band=False)


def test_a_stud_breaks_at_a_torque_that_does_not_depend_on_how_much_was_asked_for(hut_pump):
    from studwell.errors import Unknown

    setup = hut_pump.setup("backed off, plain")
    found = []
    for asked in (60.0, 9000.0):
        with pytest.raises(Unknown) as problem:
            solve_setup(
                replace(setup, tightening=replace(setup.tightening, torque=1e3 * asked)), refinement=0.3, band=False
            )
        reached, wanted = re.findall(r"([\d.]+) N\*m", str(problem.value))
        assert float(wanted) == asked
        found.append(float(reached))
    assert found[0] == approx(found[1], rel=0.01) and 20.0 < found[0] < 60.0
    torque = 0.99e3 * min(found)
    whole = solve_setup(replace(setup, tightening=replace(setup.tightening, torque=torque)), refinement=0.3, band=False)
    assert whole.verdict.margins["stud break"].value > 0.95


def test_a_stretched_stud_says_by_how_much_in_either_system_from_the_same_value(hut_pump):
    setup = hut_pump.setup("backed off, plain")
    hard = replace(setup, tightening=replace(setup.tightening, torque=27_000.0))
    found = solve_setup(hard, refinement=0.3, band=False)
    stretch, reason = found.value("stud_stretch_max"), found.verdict.margins["stud yield"].reason
    assert stretch > 1e-4
    for system in ("metric", "inch"):
        assert in_system(reason, system) == f"the stud stretched {as_text(stretch, 'length', system)} for good"


def test_cylinder_pressure_beyond_the_clamp_is_named_as_the_reason(hut_pump):
    from studwell.case.records import CylinderPressure

    setup = hut_pump.setup("backed off, plain")
    pressed = replace(setup, pressure=CylinderPressure(peak=20.0, bore=60.0))
    margin = solve_setup(pressed, refinement=0.4, band=False).verdict.margins["leak"]
    assert margin.value == np.inf
    assert "cylinder pressure" in margin.reason
