import json

from pytest import approx

from studwell.store.crack_record import crack_record
from studwell.store.summary import summary


def test_the_block_holds_four_views_of_every_setup_and_no_number_without_its_reason(comparison):
    for setup in summary(comparison)["setups"]:
        if setup["rank"] is None:
            assert setup["cracks"] is None
            continue
        block = setup["cracks"]
        assert set(block) == {"critical_distance", "fracture_mechanics", "weakest_link", "multiaxial_cycle", "compared"}
        for place in block["critical_distance"]:
            for way in ("once", "repeated"):
                assert place[way]["margin"] is not None or place[way]["reason"]
        for place in block["multiaxial_cycle"]["places"]:
            assert place["margin"] is not None or place["reason"]
        for crack in block["fracture_mechanics"]:
            assert crack["once"] is None and crack["reasons"]["once"] == "the case states no [crack] flaw"
        assert block["weakest_link"]["probability"] is None and block["weakest_link"]["reason"]


def test_the_block_is_json_with_the_numbers_of_the_verdict(cracked):
    result = cracked["bottomed, plain"]
    block = json.loads(json.dumps(crack_record(result), allow_nan=False))
    views = result.verdict.cracks
    places = {crack["place"]: crack for crack in block["fracture_mechanics"]}
    assert any("fillet" in place for place in places)
    for view in views.flaws:
        told = places[view.history.place]
        assert told["at_flaw"] == approx(view.intensity) and told["flaw_mm"] == 0.6
        if view.life is not None and view.life.histories is not None and view.life.histories < float("inf"):
            assert told["life"] == approx(view.life.histories)
    assert block["weakest_link"]["probability"] == approx(views.weakest.probability)
    assert block["compared"]["trust"] == views.trust


def test_a_life_without_end_is_a_word(cracked):
    lives = [crack["life"] for crack in crack_record(cracked["bottomed, plain"])["fracture_mechanics"]]
    assert "unbounded" in lives or any(isinstance(life, float) for life in lives)
