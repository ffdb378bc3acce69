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
