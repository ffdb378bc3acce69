"""Jumps over cycles of what flows: where they land, what they cost, when they stop, on two bars and on small joints."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from studwell.case import Inelastic
from studwell.fem import Backstress, Plasticity
from studwell.fem import Inelastic as Material
from studwell.fem.inelastic import SMALL_STRAIN
from studwell.fem.plastic_laws import equivalent_strain
from studwell.history import flow_jumps
from studwell.history.cycles import JointCycles, Lived, many_cycles, prepared_cycle
from studwell.history.flow_jumps import Carried, carry_on
from studwell.history.settling import Settlement
from studwell.parts.material import material_from, stock_material
from studwell.verify.cycle_jumps import ALUMINIUM, EXPANSION, MODULUS, YIELD, TwoBars, jumped


def bars(plasticity, mean, heating, creep=None, hours=0.0):
    return TwoBars(Material(MODULUS, 0.33, EXPANSION, plasticity, creep), mean, heating, hours)


def test_bars_that_ratchet_steadily_need_few_of_a_thousand_cycles():
    end, reached = jumped(TwoBars(ALUMINIUM, 75.0, 201.0), 1000, 10)
    assert end.reached == 1000 and end.solved < 50 and not end.stopped and not end.rested
    assert {10, 100, 1000} <= set(reached) and reached[1000].jumped and not reached[10].jumped


def test_bars_that_shake_down_are_held_and_said_to_rest():
    end, reached = jumped(bars(Plasticity(YIELD, backstresses=(Backstress(2000.0),)), 75.0, 300.0), 1000, 5)
    assert end.rested and end.reached == 1000 and end.last.cycle < 1000
    assert not reached[1000].solved and reached[1000].state is end.last.state


def test_elastic_bars_rest_after_one_cycle():
    end, _ = jumped(bars(Plasticity(10 * YIELD), 75.0, 100.0), 1000, 5)
    assert end.rested and end.solved == 1 and end.last.error == 0.0


def test_ratcheting_stops_where_small_strain_ends_and_says_so():
    end, reached = jumped(TwoBars(ALUMINIUM, 120.0, 180.0), 1000, 10)
    assert "grows on beyond small strain" in end.stopped and "bars" in end.stopped
    each = EXPANSION * 180.0 - 4 * (YIELD - 120.0) / MODULUS
    strain = np.abs(reached[end.reached].carried.zones["bars"].inelastic[:, 2]).max()
    assert SMALL_STRAIN < strain < SMALL_STRAIN + 4 * each


def test_bars_strained_beyond_small_strain_before_are_followed_a_tenth_further():
    slow = TwoBars(ALUMINIUM, 75.0, 201.0)
    start = slow.loaded().points
    far = np.array([-0.03, -0.03, 0.06, 0.0])
    strained = slow.stepped(replace(start, inelastic=start.inelastic + far), 0.0)
    got = []
    end = carry_on(slow, strained, done=0, aim=1000, first=5, most=150, wanted=[1000], tell=got.append)
    each = EXPANSION * 201.0 - 4 * (YIELD - 75.0) / MODULUS
    limit = 1.1 * equivalent_strain(strained.points.inelastic)
    over = equivalent_strain(got[-1].carried.zones["bars"].inelastic) - limit
    assert "grows on beyond small strain" in end.stopped and end.reached > 50
    assert 0.0 < over.max() < 4 * each


def test_a_budget_of_cycles_that_runs_out_is_told():
    fading = bars(Plasticity(YIELD, 0.0, 50.0, 60.0), 120.0, 200.0)
    end, _ = jumped(fading, 1000, 5, most=12)
    assert end.solved <= 12 and end.reached < 1000 and "still moves after" in end.stopped


def test_a_jump_whose_cycles_behind_do_not_add_what_was_assumed_is_refused_and_shortened(monkeypatch):
    class Fickle(TwoBars):
        """Bars that are heated more once they have flowed enough."""

        def following(self, state):
            warmer = 1.0 if state.points.plastic_strain[0] < 0.02 else 1.15
            return TwoBars(ALUMINIUM, 75.0, 200.0 * warmer).following(state)

    tried, jump = [], flow_jumps._Course.jump

    def noted(course, skipped):
        start = course.cycle
        try:
            reached = jump(course, skipped)
        except Exception:
            tried.append((start, skipped, False))
            raise
        tried.append((start, skipped, True))
        return reached

    monkeypatch.setattr(flow_jumps._Course, "jump", noted)
    got = []
    fickle = Fickle(ALUMINIUM, 75.0, 200.0)
    wanted = [60]
    start = fickle.stepped(replace(fickle.loaded().points, plastic_strain=np.full(2, 0.0195)), 0.0)
    end = carry_on(fickle, start, done=10, aim=60, first=3, most=200, wanted=wanted, tell=got.append)
    cycle, state = 10, start
    strains = {}
    while cycle < end.reached:
        state, cycle = fickle.following(state), cycle + 1
        strains[cycle] = state.strain
    refused = [(start, skipped) for start, skipped, landed in tried if not landed]
    assert refused and len(tried) > len(refused)
    for (start, longer), (other, shorter) in pairwise(refused):
        assert other > start or shorter < longer
    for one in got:
        assert abs(one.state.strain - strains[one.cycle]) <= one.error + 1e-9


def test_increments_keep_their_kinds_when_carried_on():
    state = TwoBars(ALUMINIUM, 75.0, 220.0).loaded()
    cycle = TwoBars(ALUMINIUM, 75.0, 220.0)
    later = cycle.following(state)
    more = cycle.carried(later).less(cycle.carried(state))
    on = cycle.carried(later).plus(more, 10.0, 0.0).zones["bars"]
    assert on.plastic_strain == pytest.approx(11 * later.points.plastic_strain - 10 * state.points.plastic_strain)
    assert np.array_equal(on.stress, later.points.stress)
    assert on.plastic_work.min() >= later.points.plastic_work.min() >= 0.0


def test_gaskets_are_carried_by_their_own_count():
    now, more = Carried({}, 1.0, np.array([2.0])), Carried({}, 0.1, np.array([0.2]))
    on = now.plus(more, 10.0, 3.0)
    assert on.stretch == pytest.approx(2.0) and on.crept == pytest.approx([2.6])
    assert more.share_of(now) == pytest.approx(0.1) and now.size() == 1.0


@pytest.fixture(scope="module")
def creeping(make_setup, build, live):
    """A joint whose barrel and soft head creep, lived through one cycle."""
    setup = make_setup(steps=3)
    soft = material_from("soft", stock_material("a356-t6 sand"), {"yield_strength": 120.0, "ultimate_strength": 240.0})
    stack = tuple(replace(layer, material=soft) if layer.name == "head" else layer for layer in setup.stack)
    built = build(replace(setup, stack=stack, inelastic=Inelastic(None, True, ("barrel", "head"))))
    return built, live(built)


def repeated(lived, cycles, solved_cycles):
    built, history = lived
    cycle = prepared_cycle(built.joint, history.course, None, 0)
    return many_cycles(
        built.joint, cycle, history.run[1:], None, np.zeros(built.joint.n_ports), done=1, cycles=cycles,
        start=float(history.times[-1] - history.times[0]), solved_cycles=solved_cycles, flowing=history.flowing,
    )  # fmt: skip


def test_the_clamp_of_a_creeping_joint_after_jumps_is_that_of_all_cycles_solved(creeping):
    ours, all_solved = repeated(creeping, 30, 4), repeated(creeping, 30, 30)
    assert ours.solved < 20 and all_solved.solved == 29 and all_solved.error == 0.0
    assert [mark.cycle for mark in ours.marks] == [mark.cycle for mark in all_solved.marks] == [1, 10, 30]
    assert ours.marks[-1].jumped and 0.0 < ours.marks[-1].error == ours.error
    lost = all_solved.marks[0].clamp_end - all_solved.marks[-1].clamp_end
    assert lost > 20.0 and ours.error < 0.02 * lost
    for one, other in zip(ours.marks, all_solved.marks, strict=True):
        assert abs(one.clamp_end - other.clamp_end) <= one.error + 1e-3
        assert abs(one.clamp_min - other.clamp_min) <= one.error + 1e-3
    for name, zone in ours.zones.items():
        there = all_solved.zones[name]
        assert zone.creep > 0.0 and abs(zone.creep - there.creep) <= zone.error + 1e-9
        assert abs(zone.strain - there.strain) <= zone.error + 1e-9
        assert zone.verdict == there.verdict
    assert ours.zones["barrel"].verdict == "settles"


def test_gaskets_creep_on_in_log_time_behind_a_jump(creeping):
    built, history = creeping
    cycle = prepared_cycle(built.joint, history.course, None, 0)
    held = Settlement(np.zeros(built.joint.n_ports), 0.0, ((slice(0, 1), None, None, 0.1),))
    cycles = JointCycles(built.joint, cycle, held, history.flowing)
    lived = Lived(history.run, np.zeros(1), 3 * cycle.length)
    assert cycles.creeps
    assert cycles.clock(lived, 27) - cycles.clock(lived, 0) == pytest.approx(1.0)
    still = JointCycles(built.joint, cycle, None, history.flowing)
    assert not still.creeps and still.clock(lived, 27) - still.clock(lived, 0) == pytest.approx(27.0)
