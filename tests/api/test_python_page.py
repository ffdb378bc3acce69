"""The blocks of docs/python.md run as printed, and its lists of figures are the figures that there are."""

import inspect
import re
from pathlib import Path

import matplotlib
import pytest
from matplotlib import pyplot

from studwell import api
from studwell.show.history import CYCLE_QUANTITIES
from studwell.show.section_quantity import SECTION_QUANTITIES

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "python.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```python( slow)?\n(.*?)^```$", PAGE, flags=re.MULTILINE | re.DOTALL)
SAYS = re.compile(r"^(?P<code>\S.*?)  # -> (?P<text>.*)$", flags=re.MULTILINE)


@pytest.fixture
def at_home(tmp_path, monkeypatch):
    """A folder of its own with the cases in it; no figure is left open."""
    matplotlib.use("Agg")
    (tmp_path / "cases").symlink_to(ROOT / "cases")
    monkeypatch.chdir(tmp_path)
    yield tmp_path
    pyplot.close("all")


def run(block, names):
    """Run a block; a line that ends with "# -> TEXT" must give TEXT."""
    exec(SAYS.sub(lambda found: f"same({found['code']}, {found['text']!r})", block), names)


def same(value, text):
    assert str(value) == text


def test_the_quick_blocks_run_in_order_and_give_what_they_say(at_home, capsys):
    names = {"same": same}
    quick = [block for slow, block in BLOCKS if not slow]
    assert len(quick) >= 6
    for block in quick:
        run(block, names)
    told = capsys.readouterr().out
    assert 'no solved setup "botomed"; allowed: ' in told and "no heat is solved" in told
    assert {"cycle.png", "setups.csv", "history.csv", "worst.vtu"} <= {path.name for path in at_home.iterdir()}
    assert (at_home / "out" / "report.html").is_file() and not (at_home / "out" / "fields").exists()


@pytest.mark.slow
@pytest.mark.parametrize("block", [block for slow, block in BLOCKS if slow], ids=["backoff", "odds", "choose"])
def test_the_slow_blocks_run(at_home, block):
    run("import studwell as sw\n" + block, {"same": same})
    assert list(at_home.glob("*.csv"))


def test_every_figure_of_the_public_face_is_on_the_page_and_takes_no_size():
    kinds = (api.ComparisonResult, api.SetupView, api.BackoffResult, api.OddsResult, api.ChoiceResult)
    for kind in kinds:
        for name, method in inspect.getmembers(kind, inspect.isfunction):
            if name.startswith("plot_"):
                assert f"{name}(" in PAGE, f"{kind.__name__}.{name}"
                assert name == "plot_verdict_sheet" or "ax" in inspect.signature(method).parameters, name
    for quantity in (*CYCLE_QUANTITIES, *SECTION_QUANTITIES):
        assert f"`{quantity}`" in PAGE
