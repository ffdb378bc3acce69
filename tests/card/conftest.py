"""Every setup of the shipped cases with given temperatures, solved once on a coarse mesh, and one that holds all parts."""

from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from studwell.card.build import card_of
from studwell.card.record import Card
from studwell.case import Case, case_from_text, read_case
from studwell.joint.build import BodyCache
from studwell.study.compare import solve_setup
from studwell.study.results import SetupResult

CASES = Path(__file__).parents[2] / "cases"
COARSE = 0.4

CROWDED = """
[settling]
embedding_thread = "3 um"
embedding_bearing = "3 um"
embedding_inner = "2 um"
embedding_tip = "1.5 um"

[retighten]
after = "first heat"

[setup."a repaired hole with everything that a card can be asked to tell, all of it on a single page"]
boss = { hole_depth = "17 mm", thread_depth = "14.5 mm", insert = { length = "1.5 d", set_down = "1 mm" } }
stud = { engaged_length = "11.5 mm" }
washer = [
    { kind = "plain", size = "M8" },
    { kind = "spring", size = "DIN 6796 M8", series = 3, parallel = 2, orientation = "crown down" },
    { kind = "plain", inner_diameter = "8.4 mm", outer_diameter = "20 mm", thickness = "2 mm" },
]

[setup."a repaired hole with everything that a card can be asked to tell, all of it on a single page".seating]
torque = "6 N*m"
mode = "backed off"
back_off = "1.3 turn"
counted_from = "driven seat"
threadlocker = "medium"
cured = true
threadlocker_fill = 0.8
"""


@dataclass(frozen=True)
class Solved:
    """A solved setup of a case, and its card."""

    case: Case
    result: SetupResult
    card: Card


def solved(case: Case, setup: str, cache: BodyCache) -> Solved:
    chosen = case.setup(setup)
    chosen = replace(chosen, history=replace(chosen.history, steps=9))
    result = solve_setup(chosen, refinement=COARSE, band=False, cache=cache)
    return Solved(case, result, card_of(case, result, COARSE))


def _all() -> dict[str, Case]:
    return {file.stem: read_case(file) for file in sorted(CASES.glob("*.toml")) if file.stem != "hut-pump-cycle"}


GIVEN_HEAT = _all()
SETUPS = [(stem, setup.name) for stem, case in GIVEN_HEAT.items() for setup in case.setups]


def pytest_generate_tests(metafunc):
    """A test that asks for `key` runs for every setup."""
    if "key" in metafunc.fixturenames:
        metafunc.parametrize("key", SETUPS, ids=" | ".join)


@pytest.fixture(scope="session")
def cards() -> dict[tuple[str, str], Solved]:
    """(case, setup) -> solved setup and card."""
    cache: BodyCache = {}
    return {(stem, name): solved(GIVEN_HEAT[stem], name, cache) for stem, name in SETUPS}


@pytest.fixture(scope="session")
def crowded() -> Solved:
    """One setup with insert, threadlocker, six springs, settling, re-tightening, more than a turn back."""
    text = (CASES / "hut-pump.toml").read_text()
    text = text[: text.index("[setup.")].replace('length = "95 mm"', 'length = "102 mm"') + CROWDED
    case = case_from_text(text, "crowded")
    return solved(case, case.setups[-1].name, {})


@pytest.fixture(scope="session")
def held_up() -> dict[str, Solved]:
    """A driven setup, one turned back from first contact and one from the driven seat, whose run-out stops the stud early."""
    text = (CASES / "hut-pump.toml").read_text()
    text = text[: text.index("[setup.")].replace('tip_length = "2.2 mm"', 'tip_length = "1.8 mm"')
    for name, seating in (("driven", ""), ("back", "first contact"), ("driven and back", "driven seat")):
        back = f'seating = {{ mode = "backed off", back_off = "0.22 turn", counted_from = "{seating}" }}\n'
        text += f'[setup."{name}"]\n{back if seating else ""}'
    case = case_from_text(text, "held-up")
    return {setup.name: solved(case, setup.name, {}) for setup in case.setups}
