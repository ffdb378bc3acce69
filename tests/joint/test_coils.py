"""An insert's coils between stud and hole in the joint: what passes in passes out, and how it spreads."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pytest import approx

from studwell.case import read_case
from studwell.joint.grooves import thread_shares

CASE = Path(__file__).parents[2] / "cases" / "hut-pump.toml"


@pytest.fixture(scope="module")
def coiled(request):
    setup = next(s for s in read_case(CASE).setups if s.boss.insert is not None)
    setup = replace(setup, history=replace(setup.history, steps=3))
    return replace(setup, stud=replace(setup.stud, thread_model="grooves", nut_thread_model="grooves"))


def test_coils_pass_on_the_whole_load_of_the_stud(coiled, build, live):
    built = build(coiled, refinement=0.3)
    forces = live(built).run_forces
    assert forces.insert == approx(forces.thread, rel=1e-8)
    assert forces.balance.max() < 1e-8


def test_coils_spread_the_load_more_evenly_outside_than_inside(coiled, build, live):
    built = build(coiled, refinement=0.3)
    state = live(built).run[0]
    coils = built.layout.insert.coils
    inside = thread_shares(built.joint, "boss thread", coils.inside, state.forces)
    outside = thread_shares(built.joint, "insert thread", coils.outside, state.forces)
    assert inside.sum() == approx(outside.sum(), rel=1e-8)
    assert outside.max() / outside.mean() < inside.max() / inside.mean()


def test_coils_and_ring_agree_on_what_the_joint_keeps(coiled, build, live):
    ring = replace(coiled, stud=replace(coiled.stud, thread_model="layer", nut_thread_model="layer"))
    kept = [live(build(setup, refinement=0.3)).run_forces.clamp for setup in (coiled, ring)]
    assert np.abs(kept[0] / kept[1] - 1.0).max() < 0.01
