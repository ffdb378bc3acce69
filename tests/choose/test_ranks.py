import importlib.util
from pathlib import Path

import numpy as np
import pytest

from studwell.choose.candidates import Candidate, combinations, room_needed
from studwell.choose.ranks import ranked, unbeaten
from studwell.choose.study import choose
from studwell.strength.verdict import mode_names

spec = importlib.util.spec_from_file_location("choose_conftest", Path(__file__).parent / "conftest.py")
made = importlib.util.module_from_spec(spec)
spec.loader.exec_module(made)

NAMES = mode_names()
BACK_OFF = '[bounds]\nback_off = ["0.05 turn", "0.5 turn"]\ntorque = ["10 N*m", "11 N*m"]\n'


def candidate(bounds=BACK_OFF):
    opened = made.open_case(bounds).bounds
    return Candidate(opened, next(combinations(opened)), "metric")


def margins(**known):
    row = np.full(len(NAMES), -1.0)
    for name, value in known.items():
        row[NAMES.index(name.replace("_", " "))] = value
    return row


def ranks_of(rows, gaps, **options):
    return ranked(candidate(**options), [(0, 45)] * len(rows), np.stack(rows), np.array(gaps))


def test_a_stud_that_is_turned_back_wants_room_for_feel_angle_and_chip():
    # [review] of the data: feel 0.03 turn, rule 0.22 less rule_least 0.17 turn, chip 0.05 mm; M8 has 1.25 mm a turn
    assert candidate().room_needed == pytest.approx((0.03 + 0.05) * 1.25 + 0.05)
    own = made.own_tables() + '[review]\nfeel = "0.1 turn"\nrule = "0.2 turn"\nrule_least = "0.2 turn"\nchip = "0 mm"\n'
    case = made.case_from_text(own + BACK_OFF)
    assert Candidate(case.bounds, next(combinations(case.bounds)), "metric").room_needed == pytest.approx(0.125)


def test_a_bottomed_stud_wants_no_room():
    driven = candidate('[bounds]\nseating_torque = ["2 N*m", "4 N*m"]\n')
    assert driven.room_needed == 0.0 == room_needed(driven.setup((0, 0)))


def test_of_equal_largest_margins_the_one_with_room_ranks_first_though_its_thread_is_weaker():
    near, clear = margins(stud_yield=0.8, boss_thread_strip=0.63), margins(stud_yield=0.8, boss_thread_strip=0.64)
    ranks = ranks_of([near, clear], [0.05, 0.2])
    assert ranks[1] < ranks[0] and ranks[0].short and not ranks[1].short
    ranks = ranks_of([near, clear], [0.2, 0.2])
    assert ranks[0] < ranks[1]


def test_room_never_ranks_before_a_larger_damage_margin():
    ranks = ranks_of([margins(leak=0.8), margins(leak=0.81)], [0.0, 0.5])
    assert ranks[0] < ranks[1]


def test_a_gap_that_is_not_known_is_not_enough():
    assert ranks_of([margins(leak=0.5)], [np.nan])[0].short == 1.0


def test_whatever_the_margins_the_first_rank_is_beaten_by_none():
    random = np.random.default_rng(3)
    for _ in range(30):
        # few values, so that many are equal
        rows = random.choice(
            [-1.0, 0.3, 0.6, 0.9, 1.1, np.nan], size=(25, len(NAMES)), p=[0.2, 0.3, 0.2, 0.1, 0.1, 0.1]
        )
        ranks = ranks_of(list(rows), random.choice([0.0, 0.3, np.nan], size=25))
        first = min(range(25), key=lambda row: (ranks[row], row))
        assert first in unbeaten(rows, ranks)


@pytest.mark.slow
def test_a_wide_range_of_turns_is_not_answered_by_its_middle():
    bounds = (
        '[bounds]\nsetup = "turned back"\ntorque = ["14 N*m", "20 N*m"]\nback_off = ["0.05 turn", "3 turn"]\n'
        '[setup."turned back"]\nwasher = [{ kind = "plain", size = "M8" }]\n'
        'seating = { mode = "backed off", back_off = "0.22 turn", counted_from = "first contact" }\n'
    )
    found = choose(
        made.open_case(bounds), versions={}, refinement=0.3, search_refinement=0.3, workers=1, odds_samples=0
    )
    candidate, (_, turn) = found.rows.where(found.recommended)
    assert found.recommended in found.front
    assert found.rows.outcomes[found.recommended][-1] >= candidate.room_needed
    assert candidate.axes[1].value(turn) < 0.5
    assert any("room to the floor" in reason for reason in found.reasons)
