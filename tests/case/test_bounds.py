import pickle
from pathlib import Path

import pytest

from studwell.case import case_from_text
from studwell.case.bounds_record import WasherChoice
from studwell.errors import BadCase

CASES = Path(__file__).parents[2] / "cases"


@pytest.fixture(scope="module")
def base():
    """The demo's own tables and its two setups, without [spread] and [bounds]."""
    text = (CASES / "hut-pump.toml").read_text()
    ends = [text.index(f"\n[{name}") for name in ("spread", "bounds", "setup.") if f"\n[{name}" in text]
    return (
        text[: min(ends) + 1]
        + '[setup.first]\n[setup."turned back"]\n'
        + 'seating = { mode = "backed off", back_off = "0.22 turn", counted_from = "first contact" }\n'
    )


def bounds(base, table):
    return case_from_text(base + table, "hut.toml").bounds


def refusal(base, table):
    with pytest.raises(BadCase) as refused:
        bounds(base, table)
    return refused.value


def test_ranges_are_read_in_inner_units_and_washers_spread_out(base):
    found = bounds(
        base,
        '[bounds]\ntorque = ["8 N*m", "12 lbf*ft"]\nback_off = ["36 deg", "0.5 turn"]\nnut = ["hex", "hex", "domed"]\n'
        'washer = [{ kind = "plain" }, { kind = "spring", size = "DIN 6796 M8", parallel = [1, 2], series = 3 }]\n',
    )
    assert found.torque == pytest.approx((8000.0, 16269.8), abs=0.1)
    assert found.back_off == pytest.approx((0.1, 0.5)) and found.seating_torque is None
    assert found.modes == ("backed off",) and found.nuts == ("hex", "domed") and found.setup == "first"
    assert found.washers == (
        WasherChoice(), WasherChoice("DIN 6796 M8", 1, 3), WasherChoice("DIN 6796 M8", 2, 3),
    )  # fmt: skip


def test_springs_may_lie_on_another_stocked_washer(base):
    found = bounds(base, '[[bounds.washer]]\nkind = "spring"\nsize = "DIN 6796 M8"\nseries = 3\non = "M8 wide"\n')
    assert found.washers == (WasherChoice("DIN 6796 M8", 1, 3, "M8 wide"),)
    assert found.washers[0].text == "plain M8 wide, 3 DIN 6796 M8 (3 in series)"


def test_setups_made_within_bounds_start_from_the_named_setup(base):
    found = bounds(base, '[bounds]\nsetup = "turned back"\ntorque = ["8 N*m", "9 N*m"]\n')
    made = found.make("mine", {"tightening": {"torque": "8.5 N*m"}})
    assert made.name == "mine" and made.tightening.torque == pytest.approx(8500.0)
    assert made.seating.mode == "backed off" and made.seating.turns == pytest.approx(0.22)


def test_a_made_setup_that_does_not_go_together_is_refused_like_one_of_the_file(base):
    found = bounds(base, '[bounds]\ntorque = ["8 N*m", "9 N*m"]\n')
    with pytest.raises(BadCase, match="the nut needs"):
        found.make("short", {"stud": {"length": "80 mm"}})
    assert found.make("short", {"stud": {"length": "80 mm"}}, False).stud.length == 80.0


def test_a_case_with_bounds_can_be_handed_to_another_process(base):
    case = case_from_text(base + '[bounds]\ntorque = ["8 N*m", "9 N*m"]\n', "hut.toml")
    again = pickle.loads(pickle.dumps(case))
    assert again == case
    assert again.bounds.make("x", {}) == case.bounds.make("x", {})


@pytest.mark.parametrize(
    ("table", "key", "slug", "words"),
    [
        ("[bounds]\n", "[bounds]", "missing-key", "nothing to choose"),
        ('[bounds]\nsetup = "first"\n', "[bounds]", "missing-key", "nothing to choose"),
        ('[bounds]\ntorque = ["12 N*m", "8 N*m"]\n', "[bounds] torque", "out-of-range", "first is above"),
        ('[bounds]\ntorque = ["12 N*m"]\n', "[bounds] torque", "wrong-kind", "list of two"),
        ('[bounds]\ntorque = ["12", "14 N*m"]\n', "[bounds] torque", "bad-quantity", "unit"),
        ('[bounds]\ntorque = ["12 J", "14 N*m"]\n', "[bounds] torque", "bad-quantity", "torque"),
        ('[bounds]\nback_off = ["0.1 turn", "80 turn"]\n', "[bounds] back_off", "out-of-range", "too large"),
        ('[bounds]\ntorqe = ["8 N*m", "9 N*m"]\n', "[bounds] torqe", "unknown-key", "did you mean torque"),
        ('[bounds]\nshank_diameter = ["8 mm", "9 mm"]\n', "[bounds] shank_diameter", "unknown-key", "unknown key"),
        ("[bounds]\nwasher = []\n", "[bounds] washer", "missing-key", "too few"),
        ('[[bounds.washer]]\nkind = "spring"\nsize = "DIN 6796 M88"\n', "size", "unknown-name", "DIN 6796 M8"),
        ('[[bounds.washer]]\nkind = "plain"\nsize = "M88"\n', "size", "unknown-name", "no plain washer"),
        ('[[bounds.washer]]\nkind = "spring"\n', "size", "missing-key", "needs it"),
        ('[[bounds.washer]]\nkind = "plain"\nseries = 2\n', "series", "bad-value", "does not go"),
        ('[[bounds.washer]]\nkind = "plain"\non = "M8 wide"\n', "on", "bad-value", "does not go"),
        ('[[bounds.washer]]\nkind = "spring"\nsize = "DIN 6796 M8"\non = "M8 broad"\n', "on", "unknown-name", "M8"),
        ('[[bounds.washer]]\nkind = "spring"\nsize = "DIN 6796 M8"\nseries = [0]\n', "series", "out-of-range", "zero"),
        ('[[bounds.washer]]\nkind = "spring"\nsize = "DIN 6796 M8"\nseries = []\n', "series", "out-of-range", "empty"),
        ('[bounds]\nnut = ["square"]\n', "[bounds] nut 1", "bad-value", "not one of"),
        (
            '[bounds]\nnut = "hex"\n',
            "[bounds] nut",
            "wrong-kind",
            '"hex": a list is needed; allowed: a list in brackets of "hex" or "domed"',
        ),
        ("[bounds]\nnut = []\n", "[bounds] nut", "missing-key", '["hex", "domed"], at least 1'),
        ('[bounds]\ninsert_length = "1.5 d"\n', "[bounds] insert_length", "wrong-kind", 'each "0.5 d" to "4 d"'),
        ('[bounds]\nwasher = "spring"\n', "[bounds] washer", "wrong-kind", "write [[bounds.washer]]"),
        ('[bounds]\ninsert_length = ["1.5 d"]\n', "[bounds] insert_length", "missing-key", "no insert"),
        (
            '[bounds]\nsetup = "frist"\ntorque = ["8 N*m", "9 N*m"]\n',
            "[bounds] setup",
            "unknown-name",
            "did you mean first",
        ),
    ],
    ids=lambda value: value if isinstance(value, str) and "\n" not in value else "",
)
def test_bad_bounds_are_refused_by_file_key_and_what_is_allowed(base, table, key, slug, words):
    refused = refusal(base, table)
    assert refused.slug == slug
    assert key in refused.key and refused.key.lstrip("[").startswith("bounds")
    assert "hut.toml" in str(refused) and words in str(refused)


def test_bounds_are_not_for_one_setup(base):
    with pytest.raises(BadCase, match="not for one setup"):
        case_from_text(base + '[setup.odd.bounds]\ntorque = ["8 N*m", "9 N*m"]\n', "hut.toml")


def test_springs_to_try_count_as_springs_of_the_case_and_may_be_left_out():
    text = (CASES / "hut-pump-cycle.toml").read_text()
    text = text[: text.index("\n[setup.") + 1]
    table = '[bounds]\nwasher = [{ kind = "plain" }, { kind = "spring", size = "DIN 6796 M8" }]\n'
    assert "spring_conductance" in text
    with pytest.raises(BadCase, match="no setup has a spring"):
        case_from_text(text)
    found = case_from_text(text + table).bounds
    assert not found.make("plain", {"washer": [{"kind": "plain", "size": "M8"}]}).springs


def test_a_setup_that_is_not_there_is_refused_with_the_names_in_quotes(base):
    found = refusal(base, '[bounds]\nsetup = "turned bck"\nnut = ["hex"]\n')
    assert "did you mean turned back?" in found.line and found.allowed == '"first", "turned back"'
