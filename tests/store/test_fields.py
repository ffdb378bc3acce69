"""Field files open again in a general reader, with every array on every node."""

from __future__ import annotations

import json
from dataclasses import replace

import meshio
import numpy as np
import pytest

from studwell.store.fields import CELL_ARRAYS, POINT_ARRAYS, write_all_fields, write_setup_fields
from studwell.strength.moments import MOMENTS, file_stem, named_moments
from studwell.strength.recovery import recover


@pytest.fixture(scope="module")
def result(comparison):
    return comparison["bottomed, plain"]


@pytest.fixture(scope="module")
def folder(result, tmp_path_factory):
    return write_setup_fields(tmp_path_factory.mktemp("fields") / "bottomed-plain", result).parent


def test_a_setup_has_one_file_a_moment_a_legend_and_a_collection(folder):
    names = {path.name for path in folder.iterdir()}
    assert names == {*(f"{file_stem(moment)}.vtu" for moment in MOMENTS), "legend.json", "series.pvd"}


@pytest.mark.parametrize("moment", MOMENTS)
def test_a_file_opens_with_every_array_on_every_node_and_element(folder, result, moment):
    found = meshio.read(folder / f"{file_stem(moment)}.vtu")
    meshes = [body.spec.mesh for body in result.built.bodies]
    assert len(found.points) == sum(mesh.n_nodes for mesh in meshes)
    assert [block.type for block in found.cells] == ["quad9"]
    assert len(found.cells[0].data) == sum(mesh.n_elements for mesh in meshes)
    assert tuple(found.point_data) == POINT_ARRAYS
    assert tuple(found.cell_data) == CELL_ARRAYS
    assert found.point_data["displacement_mm"].shape == (len(found.points), 3)
    assert found.point_data["stress_MPa"].shape == (len(found.points), 4)
    assert all(np.isfinite(values).all() for values in found.point_data.values())


def test_the_numbers_are_those_recovered_to_single_precision(folder, result):
    moments = named_moments(result.timeline, result.history.temperatures, result.outcomes, result.verdict)
    bodies = recover(result.built, result.timeline, result.history.temperatures, [moments["hottest"]])
    found = meshio.read(folder / "hottest.vtu")
    for name, values in (
        ("first_principal_stress_MPa", [body.first_principal[0] for body in bodies]),
        ("von_mises_stress_MPa", [body.von_mises[0] for body in bodies]),
        ("temperature_degC", [body.temperature[0] for body in bodies]),
        ("displacement_mm", [np.column_stack([b.displacement[0], 0 * b.temperature[0]]) for b in bodies]),
    ):
        expected = np.concatenate(values)
        assert np.allclose(found.point_data[name], expected, rtol=1e-6, atol=1e-6 * np.abs(expected).max())


def test_nodes_keep_their_places_and_elements_their_bodies(folder, result):
    found = meshio.read(folder / "end.vtu")
    legend = json.loads((folder / "legend.json").read_text())
    assert legend["bodies"] == [body.spec.name for body in result.built.bodies]
    body = np.concatenate(found.cell_data["body"])
    for number, part in enumerate(result.built.bodies):
        cells = found.cells[0].data[body == number]
        assert np.allclose(found.points[cells][..., :2], part.spec.mesh.nodes[part.spec.mesh.elements])
    regions = np.concatenate(found.cell_data["region"])
    corner = legend["regions"].index("boss: fillet floor side")
    assert np.count_nonzero(regions == corner) == len(result.built.bodies[0].spec.mesh.elements_of("fillet floor side"))


def test_the_collection_lists_each_instant_once_in_order_of_time(folder):
    text = (folder / "series.pvd").read_text()
    times = [float(part.split('"')[1]) for part in text.split("timestep=")[1:]]
    assert times == sorted(set(times)) and times[0] == 0.0
    for name in (part.split('"')[1] for part in text.split("file=")[1:]):
        assert (folder / name).is_file()


def test_the_same_setup_gives_the_same_bytes(folder, result, tmp_path):
    write_setup_fields(tmp_path / "again", result)
    for path in folder.iterdir():
        assert (tmp_path / "again" / path.name).read_bytes() == path.read_bytes()


def test_all_states_are_written_when_asked(result, tmp_path):
    write_setup_fields(tmp_path, result, which="all")
    assert len(list(tmp_path.glob("state-*.vtu"))) == len(result.timeline.states)


def test_every_setup_gets_a_folder_of_its_own_even_if_names_look_alike(comparison, tmp_path):
    first, second = comparison.results[:2]
    alike = replace(second, setup=replace(second.setup, name=first.name.upper() + "!"))
    paths = write_all_fields(tmp_path, replace(comparison, results=(first, alike)))
    assert len({path.parent for path in paths}) == 2
    assert all(path.parent.parent == tmp_path / "fields" and path.is_file() for path in paths)


def test_hottest_and_coldest_are_where_the_nodes_are(result):
    moments = named_moments(result.timeline, result.history.temperatures, result.outcomes, result.verdict)
    mean = result.history.temperatures.mean(axis=1)
    run = list(result.timeline.run)
    assert mean[run.index(moments["hottest"])] == mean.max()
    assert mean[run.index(moments["coldest"])] == mean.min()
    assert moments["assembled"] == run[0] and moments["end"] == run[-1]


def test_the_worst_moment_is_the_governing_margins_own(result):
    moments = named_moments(result.timeline, result.history.temperatures, result.outcomes, result.verdict)
    margin = result.verdict.margins[result.verdict.governing]
    assert result.timeline.when(moments["worst"]) == margin.when


def test_the_worst_floor_is_where_its_corner_is_stressed_most_and_the_legend_says_what_each_moment_is(folder, result):
    moments = named_moments(result.timeline, result.history.temperatures, result.outcomes, result.verdict)
    assert moments["worst floor"] == result.outcomes["floor_stress_max"].index
    legend = json.loads((folder / "legend.json").read_text())["files"]
    assert legend["worst-floor.vtu"]["when"] == result.outcomes["floor_stress_max"].when
    assert "governs" in legend["worst.vtu"]["is"] and "corner" in legend["worst-floor.vtu"]["is"]
