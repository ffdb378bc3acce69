import pytest
from pytest import approx

import studwell as sw
from studwell.api import ComparisonResult


def test_outcomes_are_quantities_with_units(comparison):
    result = ComparisonResult(comparison)
    clamp = result["bottomed, plain"].clamp_max
    assert clamp.to("kN").magnitude == approx(comparison["bottomed, plain"].value("clamp_max") / 1000)
    assert result["bottomed, plain"].thread_stress_max is None
    assert "smooth layer" in result["bottomed, plain"].why("thread_stress_max")


def test_unknown_names_are_refused_with_the_known_ones(comparison):
    result = ComparisonResult(comparison)
    with pytest.raises(KeyError, match="bottomed, plain"):
        result["nonsense"]
    with pytest.raises(AttributeError, match="clamp_max"):
        result["bottomed, plain"].clamp_most  # noqa: B018


def test_the_public_face_solves_a_case_file_in_one_call(tmp_path):
    path = tmp_path / "case.toml"
    path.write_text(sw.starter_case("M8", "hex"))
    case = sw.read_case(path)
    name = case.setups[0].name
    result = sw.solve(case, name, refinement=0.4)
    assert [setup.name for setup in result.setups] == [name]
    assert result.table().row_count == 1
    assert result.summary()["setups"][0]["name"] == name


def test_margins_of_the_api_are_those_of_the_record(comparison):
    view = ComparisonResult(comparison)["backed off, plain"]
    assert view.margins["leak"] == comparison["backed off, plain"].verdict.margins["leak"].value
    assert view.governing == comparison["backed off, plain"].verdict.governing


def test_a_call_stays_callable_when_the_room_of_its_name_is_imported():
    import studwell.choose.search
    import studwell.odds  # noqa: F401

    for name in ("odds", "choose"):
        with pytest.raises(TypeError, match=f"{name}.. missing"):
            getattr(sw, name)()
    assert sw.choose.search.__name__ == "studwell.choose.search"


def test_every_public_name_is_importable_from_both_places():
    from studwell import api

    for name in api.__all__:
        assert hasattr(api, name)
    for name in sw.__all__:
        assert callable(getattr(sw, name)) or name == "fem"


def test_a_setup_that_is_not_in_the_case_is_refused_with_those_that_are(hut_pump):
    with pytest.raises(KeyError, match='no setup "nonsense"; allowed: bottomed, plain'):
        sw.solve(hut_pump, "nonsense")


def test_a_name_without_a_margin_or_outcome_is_refused(comparison):
    with pytest.raises(KeyError, match="no outcome or margin"):
        ComparisonResult(comparison)["bottomed, plain"].why("luck")
