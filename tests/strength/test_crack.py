"""Margins of cracking on the demo's joint: which view governs, what stays unknown, and what would make it safe."""

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from studwell.case.crack import Crack
from studwell.crack.lines import crack_lines
from studwell.parts.crack import critical_distance
from studwell.parts.material import material_from
from studwell.strength.crack import ONCE, REPEATED, STUD, crack_margins, crack_views
from studwell.strength.crack_trust import is_long, short_repeated, trust_once
from studwell.strength.distances import NO_TEETH, cycle_states, distance_views, largest_range, needed
from studwell.strength.flaws import CrackHistory, along_rows, bore_histories, flaw_view
from studwell.strength.ligament import floor_ligament
from studwell.strength.timeline import stresses
from studwell.study.compare import solve_setup

OURS = {
    "threshold": 4.0,
    "growth_coefficient": 1e-13,
    "growth_exponent": 6.0,
    "growth_low": 3.0,
    "growth_high": 17.0,
    "growth_ratio": 0.9,
    "weibull_strength": 500.0,
    "weibull_volume": 1000.0,
}


def solved(setup, crack=None, **stud):
    return solve_setup(replace(setup, crack=crack, stud=replace(setup.stud, **stud)), refinement=0.4, band=False)


@pytest.fixture(scope="module")
def known(hut_pump):
    """The bottomed setup in a boss of a casting whose crack data are all known, with a flaw and a number of histories."""
    setup = hut_pump.setup("bottomed, plain")
    setup = replace(setup, boss=replace(setup.boss, material=material_from("ours", "a356-t6 sand", OURS)))
    return solved(setup, Crack(flaw=0.6, cycles=2000.0, failure_probability=0.01))


@pytest.fixture(scope="module")
def toothed(hut_pump):
    return solved(hut_pump.setup("bottomed, plain"), thread_model="grooves")


def with_corner(result, k, **changes):
    """The margins as if the crack at the fillet had a stress intensity of k sqrt(a) times the tip force's share.

    changes : of the boss's material, without solving anew
    """
    share = result.timeline.forces.tip / result.timeline.forces.tip.max()
    sizes = np.geomspace(0.05, 4.0, 20)
    corner = CrackHistory("boss fillet", "boss", 6.0, "made up", sizes, np.outer(share, k * np.sqrt(sizes)))
    setup = result.built.setup
    boss = replace(setup.boss, material=material_from("ours", setup.boss.material, changes))
    built = replace(result.built, setup=replace(setup, boss=boss))
    args = (built, result.timeline, result.history.temperatures)
    views = crack_views(*args, (corner,))
    return views, crack_margins(*args, views)


def test_point_and_line_at_the_corner_are_the_stress_there_over_the_tensile_strength_at_heat(known):
    one = known.verdict.cracks.distance("floor corner").once
    assert one.length == approx(float(critical_distance(17.3, one.strength)))
    assert one.point == approx(np.interp(0.5 * one.length, one.distance, one.stress) / one.strength)
    assert known.verdict.margins[ONCE].value >= one.value


def test_a_toughness_that_is_needed_would_do_and_a_little_less_would_not(known):
    view = known.verdict.cracks.distance("floor corner")
    one = view.once
    curve = [(one.distance, one.stress, one.strength, one.strength)]
    least = needed(curve)
    assert needed([(one.distance, 2.0 * one.stress, one.strength, one.strength)]) > least
    length = float(critical_distance(least, one.strength))
    assert np.interp(0.5 * length, one.distance, one.stress) < one.strength


def test_a_smooth_thread_has_no_roots_to_judge_and_says_so(known):
    view = known.verdict.cracks.distance("first thread root")
    assert (view.once, view.repeated, view.once_reason) == (None, None, NO_TEETH)


def test_roots_that_are_meshed_are_judged_in_the_boss_and_lack_the_steels_toughness_in_the_stud(toothed):
    views = toothed.verdict.cracks
    assert views.distance("first thread root").once.value > 0.1
    stud = views.distance("first thread root", "stud")
    assert stud.once is None and "fracture toughness of steel 8.8 is not known" in stud.once_reason
    assert 5.0 < stud.needed_toughness < 60.0


def test_unknown_data_leave_the_repeated_margin_open_with_what_would_make_it_safe(comparison):
    margin = comparison["bottomed, plain"].verdict.margins[REPEATED]
    assert margin.value is None
    assert "a fatigue strength of" in margin.reason and "would make it safe" in margin.reason


def test_a_fatigue_strength_as_large_as_told_makes_the_multiaxial_cycle_safe(hut_pump):
    setup = hut_pump.setup("backed off, plain")
    first = solved(setup)
    need = max(view.needed for view in first.verdict.cracks.fatigue if view.needed is not None)
    for factor, safe in ((1.02, True), (0.98, False)):
        material = material_from("ours", "a356-t6 sand", {"fatigue_strength": factor * need})
        again = solved(replace(setup, boss=replace(setup.boss, material=material)))
        assert (again.verdict.margins[REPEATED].value is not None) == safe


def test_stud_fatigue_is_half_the_tensions_range_on_the_stress_area_over_the_classes_endurance(known):
    tension = known.timeline.forces.tension[cycle_states(known.timeline)]
    margin = known.verdict.margins[STUD]
    assert margin.load == approx(0.5 * np.ptp(tension) / 36.609, rel=1e-3)
    assert margin.capacity == approx(0.85 * (150.0 / 8.0 + 45.0) * (2e6 / 1e4) ** 0.3333, rel=1e-3)  # the least cycles
    assert margin.value == approx(margin.load / margin.capacity)


def test_how_often_heat_comes_back_decides_the_studs_fatigue_and_unsaid_leaves_it_open(comparison, hut_pump):
    open_ = comparison["bottomed, plain"].verdict.margins[STUD]
    assert open_.value is None and "histories" in open_.reason
    many = solved(hut_pump.setup("bottomed, plain"), Crack(cycles=1e6)).verdict.margins[STUD]
    few = solved(hut_pump.setup("bottomed, plain"), Crack(cycles=2e4)).verdict.margins[STUD]
    assert many.value > 1.0 > few.value


def test_a_class_without_an_endurance_leaves_the_studs_fatigue_unknown(hut_pump):
    margin = solved(hut_pump.setup("bottomed, plain"), property_class="A2-70").verdict.margins[STUD]
    assert margin.value is None and "A2-70" in margin.reason


def test_radial_cracks_feel_the_hoop_stress_and_short_ones_are_edge_cracks(known):
    histories = bore_histories(known.built, known.timeline)
    assert len(histories) == 3
    thread = histories[1]
    hoop = known.built.joint.bodies[known.built.joint.body_index("boss")].stress["bore path thread"]
    assert np.ptp(hoop.where[:, 1]) == 0.0
    worst = int(np.argmax(thread.intensity[:, 0]))
    root = thread.intensity[worst, 0] / np.sqrt(np.pi * thread.sizes[0] / 1000.0)
    at_wall = stresses(known.built.joint, known.timeline, "boss", "bore path thread")[worst, 0, 1]
    assert root == approx(1.1215 * at_wall, rel=0.03)


def test_a_residual_pull_opens_every_crack_and_leaves_the_range_of_open_ones(known):
    built = replace(known.built, setup=replace(known.built.setup, crack=Crack(flaw=0.6, residual_stress=40.0)))
    history = bore_histories(known.built, known.timeline)[0]
    plain, pulled = flaw_view(known.built, known.timeline, history), flaw_view(built, known.timeline, history)
    assert pulled.intensity == approx(plain.intensity + 1.1215 * 40.0 * np.sqrt(np.pi * 0.6e-3), rel=0.02)
    assert pulled.swing == approx(plain.swing, rel=1e-6)


def test_a_flaw_that_reaches_the_toughness_fails_at_once_by_fracture_mechanics(known):
    views, margins = with_corner(known, 17.3 / np.sqrt(0.5))
    corner = views.flaws[0]
    assert corner.once == approx(np.sqrt(0.6 / 0.5), rel=1e-6)
    assert corner.critical == approx(0.5, rel=0.02)
    assert margins[ONCE].fails and margins[ONCE].method.startswith("fracture mechanics governs")


def test_a_flaw_that_breaks_at_once_fails_repeated_by_the_value_of_once_whatever_its_threshold(known):
    for threshold in (4.0, 1.0):
        views, margins = with_corner(known, 17.3 / np.sqrt(0.5), threshold=threshold)
        assert margins[REPEATED].value == margins[ONCE].value == approx(np.sqrt(0.6 / 0.5), rel=1e-6)
        assert ONCE in margins[REPEATED].reason and "rules" in views.trust[REPEATED]


def test_the_shear_below_a_short_flaw_is_what_to_trust_where_it_governs(known):
    corner = known.verdict.cracks.distance("floor corner").once.value
    crack = next(view for view in with_corner(known, 1.0)[0].flaws if "fillet" in view.history.place)
    for net, trusted in ((corner + 0.1, True), (corner - 0.1, False)):
        sheared = replace(crack, once=net, net=net)
        said = trust_once(known.built, known.verdict.cracks.distances, (sheared,))
        assert ("governs" in said and f"{net:.2f} of what is stood" in said) == trusted
        assert ("trust the view without a flaw" in said) != trusted


def test_a_view_that_is_not_known_is_not_called_trusted(comparison):
    trust = comparison["bottomed, plain"].verdict.cracks.trust[REPEATED]
    assert "trust the multiaxial cycle" not in trust and "it is not known" in trust
    assert "a fatigue strength of" in trust


def test_a_long_flaw_below_the_threshold_settles_the_repeated_margin(known):
    assert is_long(known.built, known.verdict.cracks.distances)
    views, margins = with_corner(known, 3.0 / np.sqrt(0.6), yield_strength=900.0)
    assert margins[REPEATED].value == approx(max(view.repeated for view in views.flaws))
    assert margins[REPEATED].value < 1.0
    assert "trust fracture mechanics" in margins[REPEATED].reason
    assert "views without a flaw are not asked" in margins[REPEATED].reason
    assert "multiaxial cycle" in margins[REPEATED].reason  # what they say is told all the same


def test_where_the_metal_yields_too_far_no_intensity_settles_it_alone_and_the_figure_is_told(known):
    views, margins = with_corner(known, 3.0 / np.sqrt(0.6))
    zone, at = max((view.growth_zone, view.history.place) for view in views.flaws)
    assert zone > 0.6  # mm, the flaw
    assert margins[REPEATED].value is None and "multiaxial cycle" in margins[REPEATED].reason
    assert f"4/pi (K/Re)^2 is {zone:.2g} mm" in views.trust[REPEATED] and at in views.trust[REPEATED]
    assert "trust fracture mechanics" not in views.trust[REPEATED]


def test_a_long_fatigue_crack_is_long_by_the_same_range_as_the_critical_distance(known):
    short = short_repeated(known.built, known.verdict.cracks.distances)
    lengths = [v.repeated.length for v in known.verdict.cracks.distances if v.body == "boss" and v.repeated is not None]
    assert short == approx(max(lengths) / 1.1215**2)
    rough = replace(known.built, setup=replace(known.built.setup, crack=Crack(surface_factor=0.5)))
    args = (rough, known.timeline, known.history.temperatures)
    assert short_repeated(rough, distance_views(*args)) > 2.0 * short


@pytest.mark.parametrize(("measured", "walker", "known_"), [(0.1, None, False), (0.1, 0.5, True), (0.9, None, True)])
def test_a_threshold_measured_at_a_smaller_stress_ratio_is_no_pass_without_walkers_law(known, measured, walker, known_):
    changes = {"growth_ratio": measured, "yield_strength": 900.0} | (
        {} if walker is None else {"walker_exponent": walker}
    )
    views, _ = with_corner(known, 3.0 / np.sqrt(0.6), **changes)
    worst = max(views.flaws, key=lambda view: view.ratio)
    assert worst.ratio > 0.3
    said = views.repeated[1]
    assert (said.value is not None) == known_
    if walker is None:
        assert bool(worst.ratio_problem) != known_
        assert known_ or f"here it is {worst.ratio:.2f}" in said.reason
    else:
        # Walker 1970: dK [(1 - R0)/(1 - R)]^(1 - g)
        assert worst.equivalent == approx(worst.swing * (0.9 / (1.0 - worst.ratio)) ** 0.5)


def test_a_ratio_that_is_not_stated_leaves_repeated_heat_unknown_and_names_the_key(known):
    material = replace(known.built.setup.boss.material, growth_ratio=None)
    built = replace(
        known.built, setup=replace(known.built.setup, boss=replace(known.built.setup.boss, material=material))
    )
    said = crack_views(built, known.timeline, known.history.temperatures, (), "").repeated[1]
    assert said.value is None and "growth_ratio" in said.reason


def test_a_flaw_that_leaves_too_little_metal_fails_by_shear_whatever_its_intensity_says(known):
    line = next(line for line in crack_lines(known.built) if line.path == "floor path 10")
    ligament = floor_ligament(known.built, known.timeline, line)
    tip = known.timeline.forces.tip.max()
    height = 6.0 - 5.5 * np.cos(np.radians(10.0))
    radius = line.mouth[0] + 5.5 * np.sin(np.radians(10.0))
    share = ligament.share(5.5, np.full(len(known.timeline.states), 150.0)).max()
    assert share == approx(tip / (2.0 * np.pi * radius * height * 150.0), rel=0.02)
    built = replace(known.built, setup=replace(known.built.setup, crack=Crack(flaw=5.5)))
    sizes = np.geomspace(0.1, 5.7, 9)
    history = CrackHistory(
        "boss fillet",
        "boss",
        line.wall,
        "made up",
        sizes,
        np.zeros((len(known.timeline.states), 9)),
        None,
        "",
        ligament,
    )
    view = flaw_view(built, known.timeline, history, known.history.temperatures)
    assert view.intensity == 0.0 and view.once == view.net > 1.0 and view.by_ligament
    assert view.gives_way < 5.5 and view.life.histories == 0.0


def test_a_residual_pull_is_in_every_view_but_the_weakest_link_and_pressure_in_none(known):
    setup = known.built.setup

    def views(residual):
        crack = replace(setup.crack, residual_stress=residual)
        args = (replace(known.built, setup=replace(setup, crack=crack)), known.timeline, known.history.temperatures)
        return crack_views(*args)

    plain, pulled, pressed = views(None), views(40.0), views(-40.0)
    corner, plain_corner = (each.distance("floor corner").once for each in (pulled, plain))
    assert corner.point * corner.strength == approx(plain_corner.point * plain_corner.strength + 40.0)
    assert pulled.distance("floor corner").repeated.value > plain.distance("floor corner").repeated.value
    assert pulled.weakest == plain.weakest and "left out" in pulled.once[2].method
    assert max(v.ratio or 0.0 for v in pulled.fatigue) > max(v.ratio or 0.0 for v in plain.fatigue)
    assert [each.value for each in pressed.once] == [each.value for each in plain.once]
    assert [each.value for each in pressed.repeated] == [each.value for each in plain.repeated]


def test_a_flaw_that_grows_is_judged_by_how_often_it_may(known):
    views, margins = with_corner(known, 12.0, yield_strength=900.0)
    corner = views.flaws[0]
    assert corner.repeated > 1.0 and corner.life.histories < np.inf
    said = (2000.0 / corner.life.histories) ** (1.0 / 6.0)
    assert margins[REPEATED].value == approx(said)


def test_without_the_corner_the_views_without_a_flaw_still_count(known):
    args = (known.built, known.timeline, known.history.temperatures)
    margin = crack_margins(*args, crack_views(*args))[REPEATED]
    assert margin.value is None
    assert "multiaxial cycle" in margin.reason and "no crack at the floor's corner was solved" in margin.reason


def test_the_weakest_link_governs_once_where_a_probability_is_asked_for(known):
    link = known.verdict.cracks.weakest
    assert 0.0 < link.probability < 1.0
    assert link.ratio == approx((-np.log1p(-link.probability) / -np.log1p(-0.01)) ** (1.0 / 11.0), rel=1e-6)
    assert link.needed == approx(500.0 * link.ratio, rel=1e-9)
    assert known.verdict.margins[ONCE].value == approx(max(link.ratio, known.verdict.cracks.once[0].value))


def test_the_scale_that_a_casting_would_need_is_told_where_it_is_unknown(comparison):
    link = comparison["bottomed, plain"].verdict.cracks.weakest
    assert link.probability is None and link.needed > 0.0
    assert f"{link.needed:.0f} MPa" in link.reason


def test_a_weakest_link_that_fails_by_elastic_peaks_is_an_upper_bound(hut_pump):
    setup = hut_pump.setup("bottomed, plain")
    weak = material_from("weak", "a356-t6 sand", {**OURS, "weibull_strength": 235.0})
    result = solved(replace(setup, boss=replace(setup.boss, material=weak)), Crack(failure_probability=0.01))
    assert result.verdict.cracks.weakest.ratio > 1.0
    assert result.verdict.margins[ONCE].value is None
    assert "upper bound" in result.verdict.margins[ONCE].reason


def test_views_that_disagree_say_by_how_much(known):
    values = [said.value for said in known.verdict.cracks.once]
    assert known.verdict.cracks.disagreement[ONCE] == approx(max(values) / min(values))


def test_a_setup_of_which_nothing_is_unknown_may_be_safe(hut_pump):
    setup = hut_pump.setup("backed off, plain")
    material = material_from("ours", "a356-t6 sand", {**OURS, "fatigue_strength": 130.0})
    result = solved(replace(setup, boss=replace(setup.boss, material=material)), Crack(cycles=2000.0))
    for mode in (ONCE, REPEATED, STUD):
        assert result.verdict.margins[mode].value < 1.0, mode


def test_the_range_on_the_worst_plane_does_not_see_a_stress_that_stays():
    stress = np.zeros((3, 2, 4))
    stress[:, :, 1] = 80.0
    stress[1, :, 2], stress[2, :, 2] = 30.0, -10.0
    swing, _, high, low = largest_range(stress, 0)
    assert swing == approx([40.0, 40.0])
    assert (high, low) == (1, 2)


def test_rows_are_read_along_a_path_as_one_at_a_time():
    distance, rows = np.array([0.0, 0.1, 0.4, 2.0]), np.array([[1.0, 5.0, -3.0, 0.0], [2.0, 2.0, 8.0, -1.0]])
    places = np.array([-0.5, 0.0, 0.05, 0.1, 0.39, 2.0, 3.0])
    wanted = np.array([np.interp(places, distance, row) for row in rows])
    assert along_rows(places, distance, rows) == approx(wanted, abs=1e-14)
