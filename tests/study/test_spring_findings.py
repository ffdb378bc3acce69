"""What is said of springs whose edges are not held."""

from dataclasses import replace
from pathlib import Path

import pytest

from studwell.case import case_from_text
from studwell.study.compare import compare
from studwell.study.spring_findings import spring_findings

TEXT = (Path(__file__).parents[2] / "cases" / "m6-cover.toml").read_text()
TEXT = TEXT[: TEXT.index("\n[setup.") + 1].replace("steps = 100", "steps = 8")
SEAT = 'seating = { mode = "backed off", back_off = "90 deg", counted_from = "first contact" }\n'
STUD = 'stud = { length = "44 mm", nut_thread_length = "20 mm" }\n'
PLAIN = '{ kind = "plain", size = "M6" }'
SPRING = '{ kind = "spring", size = "DIN 6796 M6", series = 2'


def setup(name, washers):
    return f'[setup."{name}"]\n{SEAT}{STUD}washer = [{washers}]\n'


@pytest.fixture(scope="module")
def compared():
    case = case_from_text(
        TEXT
        + setup("small ends out", f'{PLAIN}, {SPRING}, orientation = "crown down" }}')
        + setup("again", f'{PLAIN}, {SPRING}, orientation = "crown down" }}')
        + setup("rims out", f"{PLAIN}, {SPRING} }}")
        + setup("held", f'{PLAIN}, {SPRING}, orientation = "crown down" }}, {PLAIN}')
    )
    return compare(case, refinement=0.4)


def edges(comparison):
    return [found.text for found in spring_findings(comparison) if "not held" in found.text]


def test_an_edge_over_the_nuts_countersink_is_told_once_for_the_setups_that_share_it(compared):
    (told,) = edges(compared)
    assert "small ends out" in told and "again" in told and "held:" not in told.split(" the figures")[0]
    assert "its inner edge, 6.4 mm" in told and "countersink of 6.75 mm" in told
    assert "95 % of its lever" in told and "1.05 times the force" in told and "1.10 times as stiff" in told
    assert "a hard washer with a bore of at most 6.4 mm under the nut" in told


def test_rims_that_hang_over_nut_and_washer_leave_the_setup_unsolved_with_its_reason(compared):
    assert [failed.name for failed in compared.failed] == ["rims out"]
    reason = compared.failed[0].reason
    assert "unknown" in reason and "washer 1 is only 12 mm wide" in reason and "crown down" in reason


def test_springs_that_both_hold_are_only_told_to_work(compared):
    alone = replace(compared, results=tuple(item for item in compared.results if item.name == "held"))
    assert len(spring_findings(alone)) == 1 and not edges(alone)
