"""The law of a liquid under the tip, and a joint that has one: condensed against whole, and its balance."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from studwell.errors import Unknown
from studwell.history.pocket import pressures
from studwell.joint.condense import BodySpec, FaceColumns, StrainMode, condense
from studwell.joint.fluid_law import PocketLaw, PocketState
from studwell.joint.forces import forces_of
from studwell.joint.full import FullJoint
from studwell.mesh.reference import ring

LAW = PocketLaw(area=25.0, volume=40.0)
OIL = PocketState(mass=40.0, ratio=1.02, bulk_modulus=1500.0)
FREEZING = PocketState(
    mass=40.0, ratio=1.0, bulk_modulus=1700.0, ice_ratio=1.09, ice_modulus=8600.0, melting_pressure=130.0
)
LEAKING = PocketState(mass=40.0, ratio=1.02, bulk_modulus=1500.0, excess=0.3, stays=0.5, grows=0.7)

BACKED_OFF = 'seating = { mode = "backed off", back_off = "0.22 turn", counted_from = "first contact" }\n'
FITTED = 'fill = 1.0, fill_at = "as fitted", '
POCKETS = {
    "oil": BACKED_OFF + f'pocket = {{ contents = "oil", {FITTED} seal = "sealed" }}',
    "leak": BACKED_OFF + f'pocket = {{ contents = "oil", {FITTED} seal = "leaking", leak_time = "50 min" }}',
    "ice": BACKED_OFF + f'pocket = {{ contents = "water", {FITTED} seal = "sealed" }}',
    "bottomed": 'seating = { torque = "10 N*m" }\n'
    'pocket = { contents = "oil", fill = 1.0, fill_at = "first contact", seal = "sealed" }',
    "cone": 'boss = { hole_end = "cone", cone_angle = "118 deg", thread_depth = "13.5 mm" }\n'
    'pocket = { contents = "oil", fill = 1.0, fill_at = "first contact", seal = "sealed" }',
}


def states(history):
    return [history.seated, *history.tightening, *history.run, *history.pressurised]


@given(st.floats(-0.3, 0.4), st.sampled_from([OIL, FREEZING, LEAKING]))
def test_the_slopes_are_those_of_the_residual(opening, state):
    step = 1e-7
    at = np.array([opening])
    low, high = (LAW.linearise(np.zeros(1), at + s, state)[0][0] for s in (-step, step))
    slope = LAW.linearise(np.zeros(1), at, state)[2][0, 0]
    one_sided = [LAW.linearise(np.zeros(1), at + s, state)[2][0, 0] for s in (-step, step)]
    assert (
        min(one_sided) - 1e-3 * abs(slope) - 0.1
        <= (high - low) / (2 * step)
        <= max(one_sided) + 1e-3 * abs(slope) + 0.1
    )


@given(st.floats(20.0, 60.0), st.floats(0.0, 5.0), st.sampled_from([OIL, FREEZING, LEAKING]))
def test_a_larger_pocket_never_has_more_pressure_and_never_less_than_none(volume, more, state):
    assert LAW.pressure(volume, state)[0] >= LAW.pressure(volume + more, state)[0] >= 0.0


def test_a_void_has_no_pressure_and_a_full_pocket_that_of_the_squeezed_liquid():
    assert LAW.pressure(40.81, OIL)[0] == 0.0
    assert LAW.pressure(40.0, OIL)[0] == approx(1500.0 * 0.02)
    assert LAW.pressure(30.0, PocketState())[0] == 0.0


def test_water_freezes_along_the_melting_pressure_until_it_is_all_ice():
    liquid_full = 40.0 * (1.0 - 130.0 / 1700.0)  # liquid alone is at the melting pressure here
    ice_full = 43.6 * (1.0 - 130.0 / 8600.0)
    for share in (0.01, 0.5, 0.99):
        volume = liquid_full + share * (ice_full - liquid_full)
        assert LAW.pressure(volume, FREEZING)[0] == approx(130.0)
        assert LAW.frozen_share((volume - LAW.volume) / LAW.area, FREEZING) == approx(share)
    assert LAW.pressure(liquid_full - 1.0, FREEZING)[0] == approx(130.0 + 1700.0 * 1.0 / 40.0)
    assert LAW.pressure(43.4, FREEZING)[0] == approx(8600.0 * 0.2 / 43.6)
    assert LAW.pressure(43.7, FREEZING)[0] == 0.0
    assert LAW.frozen_share(1.0, FREEZING) == 1.0 and LAW.frozen_share(1.0, OIL) == 0.0


def test_what_leaks_is_gone_from_the_mass_and_the_pressure_is_that_of_the_rest():
    opening = np.array([0.0])
    after = LAW.commit(np.zeros(1), opening, LEAKING)
    assert after.excess == approx(0.5 * 0.3 + 0.7 * (0.8 - 0.3))
    assert after.mass == approx((40.0 + after.excess) / 1.02) and after.mass < 40.0
    assert (after.stays, after.grows) == (1.0, 1.0)
    assert LAW.pressure(40.0, after)[0] == approx(LAW.pressure(40.0, LEAKING)[0])
    emptied = LAW.commit(np.zeros(1), np.array([0.1]), LEAKING)  # 42.5 mm^3: a void, nothing leaks and nothing comes in
    assert emptied.mass == 40.0 and emptied.excess == approx(40.8 - 42.5)


def test_one_column_for_a_whole_face_is_the_even_sum_of_its_edges():
    faces = {"edges": FaceColumns("bore", "normal", -1.0), "all": FaceColumns("bore", "normal", -1.0, together=True)}
    mode = StrainMode("heat 0", (0.0,), 0, (1.0, 1.0, 1.0, 0.0))
    body = condense(BodySpec("b", ring(3.0, 9.0, 8.0, (3, 5)), 7e4, 0.3, faces, (mode,), "bottom"))
    edges, whole = body.columns["edges"], body.columns["all"]
    assert whole.stop - whole.start == 1
    share = body.areas["edges"] / body.areas["edges"].sum()
    assert body.compliance[:, whole][:, 0] == approx(body.compliance[:, edges] @ share, rel=1e-9, abs=1e-15)
    assert body.strain_response[whole][0] == approx(share @ body.strain_response[edges], rel=1e-9)


@pytest.fixture(scope="module")
def filled(make_setup, build, live):
    made = {name: build(make_setup(override)) for name, override in POCKETS.items()}
    return {name: (built, live(built)) for name, built in made.items()}


@pytest.mark.parametrize("name", POCKETS)
def test_condensed_and_whole_joint_agree_with_a_liquid_under_the_tip(filled, live, name):
    built, ours = filled[name]
    full = FullJoint(built.joint, [body.spec for body in built.bodies])
    theirs = live(built, solver=full.solver)
    scale = max(np.abs(state.forces).max() for state in states(ours))
    for a, b in zip(states(ours), states(theirs), strict=True):
        assert np.abs(a.forces - b.forces).max() < 1e-6 * scale
    assert pressures(built.joint, states(ours)).max() > 5.0


@pytest.mark.parametrize("name", POCKETS)
def test_every_force_balances_in_every_state(filled, name):
    built, history = filled[name]
    forces = forces_of(built.joint, states(history))
    assert forces.balance.max() < 1e-8 and forces.complementarity.max() < 1e-8
    off = forces.thread - (forces.tension + forces.tip + forces.seat + forces.pocket)
    assert np.abs(off).max() < 1e-8 * forces.thread.max()


def test_what_the_liquid_pushes_with_is_its_pressure_on_the_sealed_area_less_that_of_the_closed_tip(filled):
    built, history = filled["bottomed"]
    pressure = pressures(built.joint, states(history))
    forces = forces_of(built.joint, states(history))
    law = built.joint.interface("pocket").law
    sealed = law.area * float(built.joint.interface("pocket").axial[0])
    assert sealed == approx(np.pi / 4.0 * 7.188**2, rel=1e-4)
    closed = (pressure * sealed - forces.pocket) / pressure
    assert np.all(closed > 0.1 * law.area) and np.all(closed < 1.0001 * law.area)
    away, off = filled["oil"]
    assert forces_of(away.joint, states(off)).pocket == approx(pressures(away.joint, states(off)) * sealed, abs=1e-6)


def test_a_liquid_under_an_insert_is_unknown(make_setup, build):
    override = 'boss = { insert = { length = "1 d", set_down = "0.5 mm" } }\n' + POCKETS["bottomed"]
    with pytest.raises(Unknown, match="insert"):
        build(make_setup(override))


def test_a_liquid_under_teeth_that_are_meshed_balances_and_pushes_in_spite_of_their_play(make_setup, build, live):
    override = 'stud = { thread_model = "grooves", nut_thread_model = "layer" }\n' + POCKETS["oil"]
    built = build(make_setup(override, steps=2))
    history = live(built)
    forces = forces_of(built.joint, states(history))
    assert forces.balance.max() < 1e-8 and pressures(built.joint, states(history)).max() > 5.0
    lifted = history.liquid.fitted_volume(built.joint, history.seated)
    tightened = history.liquid.volume(built.joint, history.tightening[0])
    assert lifted == approx(tightened, rel=5e-3)
    assert (
        history.liquid.volume(built.joint, history.seated) < 0.98 * lifted
    )  # it lies low in its play until it is pulled
