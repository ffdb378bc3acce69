"""The demo, solved once on a coarse mesh for all tests that only read it, and small joints of the starter case."""

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from studwell.case import Case, case_from_text, read_case, starter_case
from studwell.case.crack import Crack
from studwell.case.review import Review as ReviewInputs
from studwell.history.stages import live_through
from studwell.joint.build import build_joint
from studwell.mesh import blocks
from studwell.odds.study import Odds, odds
from studwell.parts.material import material_from
from studwell.review.run import Review, review
from studwell.study.compare import compare
from studwell.study.results import Comparison

CASES = Path(__file__).parents[1] / "cases"
YIELD, ULTIMATE, HARDENING_STRAIN = 640.0, 800.0, 0.08


def few_steps(case: Case, steps: int = 9) -> Case:
    """The same case with fewer steps."""
    return replace(case, setups=tuple(replace(s, history=replace(s.history, steps=steps)) for s in case.setups))


@pytest.fixture(scope="session")
def hut_pump() -> Case:
    return few_steps(read_case(CASES / "hut-pump.toml"))


@pytest.fixture(scope="session")
def comparison(hut_pump: Case) -> Comparison:
    return compare(hut_pump, refinement=0.5)


@pytest.fixture(scope="session")
def cracked(hut_pump: Case) -> Comparison:
    """Two setups with a flaw: one in a casting whose crack data are all known, one in the stocked alloy."""
    data = {
        "threshold": 2.0,
        "growth_coefficient": 1e-12,
        "growth_exponent": 4.0,
        "growth_low": 2.0,
        "growth_high": 17.0,
        "growth_ratio": 0.9,
        "weibull_strength": 500.0,
        "weibull_volume": 1000.0,
    }
    crack = Crack(flaw=0.6, inspection_size=1.2, cycles=2000.0)
    bottomed, off = (replace(hut_pump.setup(f"{name}, plain"), crack=crack) for name in ("bottomed", "backed off"))
    ours = replace(bottomed, boss=replace(bottomed.boss, material=material_from("ours", "a356-t6 sand", data)))
    return compare(replace(hut_pump, setups=(ours, off)), refinement=0.4, band=False)


@pytest.fixture(scope="session")
def small_review(hut_pump: Case) -> Review:
    """The back-off rule reviewed in the demo's bottomed setup alone, with one seating torque and one other floor."""
    setup = hut_pump.setup("bottomed, plain")
    given = ReviewInputs(seating_torques=(10_000.0,), floors=(3.0,))
    setup = replace(setup, review=given, history=replace(setup.history, steps=3))
    return review(replace(hut_pump, setups=(setup,)), refinement=0.35)


@pytest.fixture(scope="session")
def small_odds(hut_pump: Case, tmp_path_factory: pytest.TempPathFactory) -> Odds:
    """The odds of the demo's bottomed and backed-off setups from a few samples on a coarse mesh."""
    setups = tuple(hut_pump.setup(name) for name in ("bottomed, plain", "backed off, plain"))
    folder = tmp_path_factory.mktemp("odds")
    return odds(
        replace(hut_pump, setups=setups),
        40,
        lambda name: folder / f"{name}.rows",
        check=4,
        sensitivity=False,
        refinement=0.4,
    )


@pytest.fixture(scope="session")
def workshop() -> Comparison:
    """The demo's bottomed setup with an insert, tolerances and cured threadlocker, and its domed nut just clear of the stud."""
    text = (CASES / "hut-pump.toml").read_text()
    text = text[: text.index("[setup.")].replace('stud_length_tolerance = "0.5 mm"', 'stud_length_tolerance = "0.4 mm"')
    text += """
[setup."insert"]
boss = { insert = { length = "1.5 d", set_down = "1 mm" }, thread_depth = "14 mm" }
stud = { engaged_length = "11.5 mm" }
seating = { threadlocker = "medium", cured = true, threadlocker_fill = 0.8 }

[setup."domed"]
nut = { kind = "domed", size = "M8" }
stud = { length = "86.4 mm" }
repair = { least_floor = "3 mm" }
"""
    return compare(few_steps(case_from_text(text, "workshop")), refinement=0.4, band=False)


def hand_made_boss(seat=(0.0, 0.9, 1.7, 2.3, 2.75), mouth=(4.1, 4.5, 5.4, 6.4, 7.4, 8.6, 10.0, 11.0, 12.5, 14.0),
                   thread=3.594, low=2.2, high=14.2, depth=15.0, floor=6.0, uneven=1.0):  # fmt: skip
    """A coarse boss for an M8 stud with a sharp floor corner, two subdomains, no fillet; mm. uneven: the thread edges."""
    drill = 3.3235
    rows = np.concatenate([np.linspace(0.0, 1.5, 4), low + (high - low) * np.linspace(0.0, 1.0, 16) ** uneven, [depth]])
    wall = np.interp(rows, [0.0, 1.5, low, high, depth], [drill, drill, thread, thread, mouth[0]])
    share = (np.array(mouth) - mouth[0]) / (mouth[-1] - mouth[0])
    side = np.empty((len(share), len(rows), 2))
    side[:, :, 0], side[:, :, 1] = wall + (mouth[-1] - wall) * share[:, None], rows
    across = np.concatenate([seat, [0.5 * (seat[-1] + drill)], side[:, 0, 0]])
    under = np.empty((len(across), 7, 2))
    under[:, :, 0], under[:, :, 1] = across[:, None], np.linspace(-floor, 0.0, 7)
    mesh = blocks.build(
        [
            blocks.grid_block(side, "wall", {"north": "mouth", "east": "outer"}),
            blocks.grid_block(under, "floor", {"south": "underside", "east": "outer"}),
        ]
    )
    mesh = mesh.with_boundary("thread", lambda r, z: (np.abs(r - thread) < 1e-6) & (z > low) & (z < high))
    return mesh.with_boundary("seat", lambda r, z: (np.abs(z) < 1e-9) & (r < seat[-1]))


@pytest.fixture(scope="session")
def own_boss():
    """Function: changed dimensions -> the mesh of a boss as a user might make it by hand."""
    return hand_made_boss


@pytest.fixture(scope="session")
def hut_pump_cycle() -> Case:
    """The demo with solved heat: bottomed, backed off, and backed off with settling and re-tightening."""
    case = few_steps(read_case(CASES / "hut-pump-cycle.toml"), 24)
    kept = ("bottomed, plain", "backed off, plain", "backed off, settled and re-tightened")
    return replace(case, setups=tuple(case.setup(name) for name in kept))


@pytest.fixture(scope="session")
def solved_heat(hut_pump_cycle: Case) -> Comparison:
    return compare(hut_pump_cycle, refinement=0.4, band=False)


BENCH = {
    "hole_depth": 15, "thread_depth": 13, "length": 86.5, "boss_thread_length": 16.5, "engaged_length": 12, "tip_length": 2.2,
}  # fmt: skip
"""mm, of the M8 stud that tests are written for; the starter's own dimensions may change."""


def _on_the_bench(text):
    for key, value in BENCH.items():
        text, count = re.subn(rf'^{key} = "[^"]*"', f'{key} = "{value} mm"', text, count=1, flags=re.MULTILINE)
        assert count == 1, key
    return text


@cache
def _setup(override, thread, steps, nut):
    text = starter_case(thread, nut)
    if thread == "M8":
        text = _on_the_bench(text)
    text += '\n[setup."own"]\n' + override
    setup = case_from_text(text, "own case").setups[-1]
    return replace(setup, history=replace(setup.history, steps=steps))


@pytest.fixture(scope="session")
def make_setup():
    """Function: lines of a setup's table -> Setup."""
    return lambda override="", thread="M8", steps=6, nut="hex": _setup(override, thread, steps, nut)


@pytest.fixture(scope="session")
def build():
    """Function: Setup -> BuiltJoint on a coarse mesh, every body below 2,000 unknowns."""

    def function(setup, refinement=0.05, **options):
        return build_joint(
            setup,
            yield_strength=YIELD,
            ultimate_strength=ULTIMATE,
            hardening_strain=HARDENING_STRAIN,
            refinement=refinement,
            **options,
        )

    return function


@pytest.fixture(scope="session")
def live():
    """Function: BuiltJoint -> HistoryResult."""

    def function(built, yield_strength=YIELD, **options):
        return live_through(
            built.setup,
            built.layout,
            built.bodies,
            built.joint,
            built.seat,
            yield_strength=yield_strength,
            **options,
        )

    return function
