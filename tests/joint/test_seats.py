"""Studs that an incomplete thread or a tang stops: forces, torque and what is left unknown."""

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from studwell.errors import Unknown
from studwell.history.torques import torques_of
from studwell.joint.forces import forces_of
from studwell.joint.seats import EDGES, pressed_areas

HOLE = 'boss = { thread_depth = "11.2 mm" }\nstud = { engaged_length = "10 mm"%s }'
MOUTH = 'stud = { engaged_length = "10 mm", boss_thread_length = "13 mm"%s }'
WEDGES = pytest.mark.parametrize("override", [HOLE, MOUTH], ids=["in the hole", "at the mouth"])
TANG = """boss = { insert = { length = "1.5 d", set_down = "0.5 mm" }, hole_depth = "18 mm", thread_depth = "15.5 mm" }
stud = { length = "97 mm", nut_thread_length = "24 mm", boss_thread_length = "16 mm" }
seating = { seat = "insert tang" }"""


@WEDGES
def test_the_wedge_carries_what_the_torque_leaves_after_thread_and_taper(make_setup, build, live, override):
    # cone clutch, Shigley ch. 16: mu r / sin(half angle) beside the thread's own pitch and friction
    setup = make_setup(override % "")
    built = build(setup)
    history = live(built, yield_strength=1e6, constant_modulus=True)
    wedge, torques = built.layout.wedge, torques_of(setup, built.layout)
    rubbing = setup.seating.thread_friction * wedge.radius / np.sin(wedge.half_angle)
    expected = setup.seating.torque / (torques.boss_thread + rubbing)
    forces = forces_of(built.joint, [history.seated])
    assert forces.seat[0] == approx(expected, rel=1e-9)
    assert forces.tip[0] == 0.0
    assert forces.thread[0] == approx(expected, rel=1e-9)


@WEDGES
@pytest.mark.parametrize("friction", [0.0, 0.1])
def test_every_state_balances_with_the_seats_force(make_setup, build, live, override, friction):
    built = build(make_setup(override % ""), tip_friction=friction)
    history = live(built)
    forces = forces_of(built.joint, [*history.tightening, *history.run])
    assert forces.balance.max() < 1e-8 and forces.complementarity.max() < 1e-8
    assert np.abs(forces.thread - forces.tension - forces.seat - forces.tip).max() < 1e-8 * forces.thread.max()


@WEDGES
def test_the_boss_is_pushed_outwards_by_the_axial_force_over_the_tapers_tangent(make_setup, build, live, override):
    built = build(make_setup(override % ""))
    state = live(built).seated
    joint, index = built.joint, built.joint.body_index("boss")
    columns = joint.column_forces(index, state.forces)
    boss = joint.bodies[index]
    outwards = columns[boss.columns["wedge radial"]].sum()
    down = -columns[boss.columns["wedge axial"]].sum()
    assert down == approx(forces_of(joint, [state]).seat[0])
    assert outwards == approx(down / np.tan(built.layout.wedge.half_angle))


@WEDGES
def test_a_bonded_thread_wedges_with_the_same_force(make_setup, build, live, override):
    layer, bonded = (
        forces_of(built.joint, [live(built).seated]).seat[0]
        for built in (build(make_setup(override % more)) for more in ("", ', thread_model = "bonded"'))
    )
    assert bonded == approx(layer, rel=1e-9)


def test_turns_count_from_the_wedge_and_free_it(make_setup, build, live):
    back = '\nseating = { mode = "backed off", back_off = "0.25 turn", counted_from = "first contact" }'
    setup = make_setup(HOLE % "" + back)
    built = build(setup)
    history = live(built)
    assert history.seating.travel == approx(-0.25 * setup.stud.thread.pitch)
    assert forces_of(built.joint, [history.seated]).seat[0] == 0.0
    gap = history.seated.openings[built.joint.slices["tip"]].min()
    assert gap == approx(built.seat.clearance + 0.25 * setup.stud.thread.pitch, abs=1e-3)


def test_the_wedge_presses_the_threads_own_edges_on_both_sides_of_where_they_meet(make_setup, build):
    built = build(make_setup(MOUTH % ""), refinement=0.3)
    boss, stud = (built.bodies[built.joint.body_index(name)].spec.mesh for name in ("boss", "stud"))
    heights = [mesh.nodes[mesh.facet_nodes[mesh.facets_of(EDGES), 2], 1] for mesh in (boss, stud)]
    meet = built.layout.wedge.contact_z
    assert heights[0].max() < meet < heights[1].max()
    assert meet - heights[0].min() < 1.5 * built.setup.stud.thread.pitch
    # what reaches beyond the stated heights carries its part only: a pitch in all
    boss_area = pressed_areas(built.joint.bodies[0], built.layout.wedge).sum()
    around = 2.0 * np.pi * built.layout.boss.thread_radius
    assert boss_area == approx(around * built.setup.stud.thread.pitch, rel=0.02)


def test_a_tang_takes_the_drive_past_the_inserts_thread(make_setup, build, live):
    built = build(make_setup(TANG), refinement=0.2)
    forces = forces_of(built.joint, [(history := live(built)).seated, history.tightening[-1]])
    assert forces.seat[0] > 1000.0 and forces.tip[0] == 0.0
    assert forces.insert == approx(forces.thread - forces.seat, abs=1e-6 * forces.thread.max())


def test_a_tang_without_an_insert_is_unknown_when_driven_and_only_counts_turns_otherwise(make_setup, build, live):
    tang = 'seat = "insert tang"'
    with pytest.raises(Unknown, match="no insert"):
        build(make_setup(f"seating = {{ {tang} }}"))
    loose = make_setup(
        f'seating = {{ {tang}, mode = "backed off", back_off = "0.5 turn", counted_from = "first contact" }}'
    )
    loose = replace(loose, seating=replace(loose.seating, torque=None))
    assert not build(loose).joint.has("seat")


def test_a_cones_land_resists_sliding_with_friction_and_the_axial_balance_holds(make_setup, build, live):
    cone = 'boss = { hole_end = "cone", cone_angle = "118 deg", thread_depth = "13.5 mm" }'
    built = build(make_setup(cone), tip_friction=0.2)
    history = live(built)
    part = built.joint.slices["tip"]
    forces = np.stack([state.forces[part] for state in history.run])
    n = forces.shape[1] // 2
    assert np.abs(forces[:, n:]).max() > 1.0
    assert np.all(np.abs(forces[:, n:]) <= 0.2 * forces[:, :n] + 1e-6)
    assert forces_of(built.joint, history.run).balance.max() < 1e-8
