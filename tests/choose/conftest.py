from pathlib import Path

import pytest

from studwell.case import case_from_text
from studwell.choose.study import choose

CASES = Path(__file__).parents[2] / "cases"

BOUNDS = """
[setup."turned back"]
seating = { mode = "backed off", back_off = "0.22 turn", counted_from = "first contact" }

[bounds]
torque = ["8 N*m", "20 N*m"]
back_off = ["0.05 turn", "0.5 turn"]
washer = [
    { kind = "plain" },
    { kind = "spring", size = "DIN 6796 M8", series = [2, 9] },
]
"""


def own_tables():
    """The demo's own tables with few steps, without [spread], [bounds] and setups."""
    text = (CASES / "hut-pump.toml").read_text()
    ends = [text.index(f"\n[{name}") for name in ("spread", "bounds", "setup.") if f"\n[{name}" in text]
    return text[: min(ends) + 1].replace("steps = 100", "steps = 9")


def open_case(bounds=BOUNDS):
    return case_from_text(own_tables() + bounds, "hut.toml")


@pytest.fixture(scope="session")
def case():
    return open_case()


@pytest.fixture(scope="session")
def choice(case):
    """The case's choice on coarse meshes: plain washers or two conical ones; nine do not go on the stud."""
    with pytest.MonkeyPatch.context() as few:
        for name, count in (("SPREAD", 2), ("DOWNHILL", 18), ("ROWS", 24)):
            few.setattr(f"studwell.choose.search.{name}", count)
        return choose(case, versions={"studwell": "test"}, refinement=0.4, search_refinement=0.4, workers=1)
