"""A liquid under the tip through seating, tightening, heat, leaks and many cycles."""

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from studwell.history import cycles
from studwell.history.cycles import many_cycles, prepared_cycle
from studwell.history.pocket import frozen_shares, pressures
from studwell.joint.solve import solve_state

BACKED_OFF = 'seating = { mode = "backed off", back_off = "0.22 turn", counted_from = "first contact" }\n'


def pocket(contents="oil", fill=1.0, fill_at="as fitted", seal="sealed", more=""):
    return f'pocket = {{ contents = "{contents}", fill = {fill}, fill_at = "{fill_at}", seal = "{seal}"{more} }}'


LEAK = {"seal": "leaking", "more": ', leak_time = "30 min"'}


@pytest.fixture(scope="module")
def lived(make_setup, build, live):
    """Function: lines of a setup -> (BuiltJoint, HistoryResult); moduli and the stud stay elastic."""
    found = {}

    def function(override):
        if override not in found:
            built = build(make_setup(override, steps=12))
            found[override] = built, live(built, yield_strength=1e6)
        return found[override]

    return function


def test_a_stud_driven_into_a_full_hole_reaches_its_torque_on_the_liquid_too(lived):
    seating = 'seating = { torque = "10 N*m" }\n'
    dry, full = (lived(seating + lines)[1].seating for lines in ("", pocket(fill_at="first contact")))
    assert full.drive_pressure > 10.0 and dry.drive_pressure == 0.0
    assert full.drive_wedge < dry.drive_wedge - 100.0
    assert 0.0 < full.drive_approach < dry.drive_approach and not full.on_liquid
    built, history = lived(seating + pocket(fill_at="first contact"))
    forces = history.seated_forces  # torque = thread friction on W + pocket, tip friction on the contact alone
    torques = history.torques
    contact = float(built.joint.axial_load("tip", history.seated.forces))
    assert torques.boss_thread * forces.thread[0] + torques.tip * contact == approx(10_000.0, rel=1e-9)


def test_a_stiff_liquid_over_a_thin_floor_locks_before_the_tip_bears(lived):
    thin = 'boss = { floor_thickness = "1 mm" }\nseating = { torque = "5 N*m" }\n'
    stiff = pocket("own fluid", fill_at="first contact", more=', bulk_modulus = "200 GPa", expansion = "7e-4 /K"')
    history = lived(thin + stiff)[1]
    assert history.seating.on_liquid
    assert history.seated_forces.tip[0] == approx(0.0, abs=1e-6)
    assert history.seated_forces.pocket[0] * history.torques.boss_thread == approx(5000.0, rel=1e-9)


def test_backing_off_makes_room_so_that_what_was_full_pushes_no_more(lived, make_setup):
    built, history = lived(BACKED_OFF + pocket(fill_at="first contact"))
    liquid = history.liquid
    lift = make_setup(BACKED_OFF).tip_gap
    sealed = liquid.law.area * float(built.joint.interface("pocket").axial[0])
    assert liquid.volume(built.joint, history.seated) == approx(liquid.law.volume + lift * sealed, rel=1e-6)
    assert pressures(built.joint, history.run).max() == 0.0
    refilled = lived(BACKED_OFF + pocket())[1]
    mass = refilled.run[-1].law_states[refilled.liquid.index].mass
    assert mass == approx(liquid.law.volume + lift * sealed, rel=1e-6)
    assert pressures(built.joint, refilled.run).max() > 5.0


def test_a_void_must_be_filled_by_heat_before_anything_pushes(lived):
    for fill, pushes in ((0.99, True), (0.93, False)):
        built, history = lived(BACKED_OFF + pocket(fill=fill))
        pressure = pressures(built.joint, history.run)
        heat = np.array([each.pocket for each in history.course.heats])
        volumes = np.array([history.liquid.volume(built.joint, state) for state in history.run])
        grown = fill * history.liquid.volume(built.joint, history.seated) * (1.0 + 7e-4 * (heat - 20.0))
        assert ((grown > volumes) == (pressure > 0.0)).all()
        assert (pressure.max() > 0.0) == pushes


def test_a_sealed_liquid_is_all_there_at_the_end_and_a_leaking_one_is_not(lived):
    sealed, leaking = (lived(BACKED_OFF + pocket(**keys))[1] for keys in ({}, LEAK))
    first = sealed.seated.law_states[sealed.liquid.index].mass
    assert sealed.run[-1].law_states[sealed.liquid.index].mass == approx(first, rel=1e-15)
    left = [state.law_states[leaking.liquid.index].mass for state in leaking.run]
    assert np.all(np.diff(left) <= 0.0) and left[-1] < 0.995 * left[0]


def test_a_leak_takes_the_pressure_down_as_the_walls_and_the_liquid_give(lived):
    """At a held temperature p' = -p / t / (1 + C K), but for p / K: the give C of the walls is what heat of it shows."""
    built, history = lived(BACKED_OFF + pocket(**LEAK))
    hot = history.run[int(np.argmax(pressures(built.joint, history.run)))]
    solver = history.liquid.solver(solve_state)

    def pressure(state):
        return float(pressures(built.joint, [state])[0])

    warmer = solver(built.joint, hot, replace(hot.heat, pocket=hot.heat.pocket + 1.0))
    give = 1500.0 * 7e-4 / (pressure(warmer) - pressure(hot))  # 1 + C K
    assert 1.1 < give < 2.0
    for steps, tolerance in ((1, 0.03), (40, 0.015)):
        state = hot
        for _ in range(steps):
            state = solver(built.joint, state, hot.heat, duration=1800.0 / steps)
        assert pressure(state) / pressure(hot) == approx(np.exp(-1.0 / give), rel=tolerance)


def test_water_follows_the_melting_curve_while_part_of_it_is_liquid(lived):
    built, history = lived(BACKED_OFF + pocket("water"))
    ice = history.liquid.fluid.ice
    share = frozen_shares(history.liquid, built.joint, history.run)
    mixed = (share > 0.01) & (share < 0.99)
    assert mixed.any()
    heat = np.array([each.pocket for each in history.course.heats])
    assert pressures(built.joint, history.run)[mixed] == approx(ice.melting_pressure(heat[mixed]), rel=1e-9)
    assert not history.warnings


def test_water_in_half_a_pocket_freezes_through_and_is_told(lived):
    built, history = lived(BACKED_OFF + pocket("water", fill=0.85))
    assert frozen_shares(history.liquid, built.joint, history.run)[-1] == 1.0
    assert pressures(built.joint, history.run)[-1] == 0.0  # nine per cent more still leaves a void
    assert any("freezes" in text and "upper bound" in text for text in history.warnings)


def test_repeated_cycles_of_a_sealed_pocket_are_alike_and_a_leak_stops_the_jumps(lived, monkeypatch):
    monkeypatch.setattr(cycles, "LEAKING_CYCLES", 35)
    for keys, dry in (
        ({}, False),
        ({"seal": "leaking", "more": ', leak_time = "3000 day"'}, False),
        ({"seal": "leaking", "more": ', leak_time = "20 s"'}, True),
    ):
        built, history = lived(BACKED_OFF + pocket(**keys))
        repeated = replace(prepared_cycle(built.joint, history.course, None, 0), liquid=history.liquid)
        start = float(history.times[-1])
        result = many_cycles(
            built.joint, repeated, history.run[1:], None, history.crept, done=1, cycles=2000, start=start
        )
        if "more" in keys and not dry:
            assert result.reached == 36 and "leaks" in result.stopped
        else:
            assert result.reached == 2000 and not result.stopped
        worst = pressures(built.joint, result.last).max()
        once = pressures(built.joint, history.run[1:]).max()
        assert worst < once if "more" in keys else worst == approx(once, rel=1e-6)


def test_a_solved_temperature_of_the_liquid_lies_between_those_of_its_walls(solved_heat):
    from studwell.history.pocket import with_liquid
    from studwell.section.pocket import wet_boss, wet_stud

    result = solved_heat.results[0]
    bodies = list(result.built.bodies)
    for i, wet in ((0, wet_boss), (1, wet_stud)):
        bodies[i] = replace(bodies[i], spec=replace(bodies[i].spec, mesh=wet(bodies[i].spec.mesh)))
    course = with_liquid(result.history.course, bodies, 20.0)
    for heat, index in zip(course.heats, range(len(course.heats)), strict=True):
        walls = [body.solved.temperature[index] for body in bodies if body.spec.name in ("boss", "stud")]
        assert min(wall.min() for wall in walls) - 1e-4 <= heat.pocket <= max(wall.max() for wall in walls) + 1e-4
    assert course.assembly.pocket == 20.0
