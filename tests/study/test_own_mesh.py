"""A boss mesh of the user's own, solved: our own mesh read back changes nothing; a hand-made one goes end to end."""

import re
from pathlib import Path

import meshio
import numpy as np
import pytest
from pytest import approx

from studwell.case import case_from_text
from studwell.case.boss_mesh import NAMED
from studwell.joint.paths import nearest_on
from studwell.mesh.files import write_mesh
from studwell.mesh.mesh import Mesh
from studwell.store.summary import history_csv
from studwell.study.compare import built_joint, compare, solve_setup
from studwell.study.findings import findings

CASES = Path(__file__).parents[2] / "cases"
COARSE = 0.5


def few(name, steps=9):
    text = (CASES / name).read_text().split('[setup."repaired hole')[0]  # whose boss is another one
    return text.replace("steps = 100", f"steps = {steps}").replace("steps = 120", f"steps = {steps}")


def with_boss(text, folder, mesh, lines=""):
    write_mesh(folder / "own.vtu", mesh)
    return case_from_text(text.replace("[boss]\n", f'[boss]\nmesh = "own.vtu"\n{lines}\n'), "own.toml", folder)


def assert_alike(first, second, rel=1e-9):
    for name, outcome in first.outcomes.items():
        if outcome.value is None:
            assert second.value(name) is None
        else:
            assert second.value(name) == approx(outcome.value, rel=rel, abs=1e-9), name
    for mode, margin in first.verdict.margins.items():
        assert second.verdict.margins[mode].value == (
            margin.value if margin.value is None else approx(margin.value, rel=rel, abs=1e-9)
        ), mode


@pytest.mark.parametrize(
    ("case", "setup"),
    [("hut-pump.toml", "bottomed, plain"), ("hut-pump.toml", "backed off, domed nut"), ("m10-anchor.toml", None),
     ("inch-bracket.toml", None), ("hut-pump-cycle.toml", "bottomed, plain")],
)  # fmt: skip
def test_our_own_boss_mesh_read_back_gives_the_same_outcomes(case, setup, tmp_path):
    text = few(case, 24 if "cycle" in case else 9)
    known = case_from_text(text)
    chosen = known.setup(setup) if setup else known.setups[0]
    first = solve_setup(chosen, refinement=COARSE, band=False)
    boss = first.built.bodies[0].spec.mesh
    again = with_boss(text, tmp_path, boss).setup(chosen.name)
    assert again.boss.own_mesh is not None
    assert_alike(first, solve_setup(again, refinement=COARSE, band=False))


@pytest.fixture(scope="module")
def hand_made(own_boss, tmp_path_factory):
    return compare(
        with_boss(few("hut-pump.toml"), tmp_path_factory.mktemp("own"), own_boss()), refinement=COARSE, band=False
    )


def test_a_coarse_hand_made_mesh_is_solved_end_to_end(hand_made, comparison):
    assert not hand_made.failed
    for result in hand_made.results:
        ours = comparison[result.name]
        assert result.equilibrium_residual < 1e-8
        assert result.built.bodies[0].spec.mesh.n_elements < 300
        for name in ("clamp_assembled", "clamp_max", "clamp_min", "tip_force_max", "thread_load_max"):
            assert result.value(name) == approx(ours.value(name), rel=0.01, abs=1e-6), (result.name, name)
        assert result.value("tip_gap_min") == approx(ours.value("tip_gap_min"), abs=2e-4)


def test_without_fillet_and_bands_floor_stress_and_crack_are_unknown_with_their_reasons(hand_made):
    for result in hand_made.results:
        floor, crack = result.outcomes["floor_stress_max"], result.verdict.margins["boss crack (once)"]
        assert floor.value is None and "fillet floor side" in floor.reason
        assert crack.value is None and 'no boundary "fillet"' in crack.reason
    assert result.verdict.safe is not True
    bottoming = next(item.text for item in findings(hand_made) if item.kind == "bottoming")
    assert "floor stress" not in bottoming and "wedge force" in bottoming
    head, first = history_csv(result).splitlines()[:2]
    assert first.split(",")[head.split(",").index("floor_stress_MPa")] == ""


def test_the_lowest_ring_meets_the_mouths_lines_and_its_top_those_of_the_washer(hand_made):
    built = hand_made["bottomed, plain"].built
    ring = built.layout.rings[0]
    inside = (ring.bottom_radii > 4.5 - 1e-9) & (ring.bottom_radii < 11.0 + 1e-9)
    assert ring.bottom_radii[inside] == approx([4.5, 5.4, 6.4, 7.4, 8.6, 10.0, 11.0])
    assert np.abs(ring.radii - 8.0).min() < 1e-9  # the washer's edge
    assert ring.bottom_radii[[0, -1]] == approx(ring.radii[[0, -1]])


def test_uneven_edges_of_the_thread_carry_by_their_length(hand_made, own_boss, tmp_path):
    setup = with_boss(few("hut-pump.toml"), tmp_path, own_boss(uneven=1.6)).setup("bottomed, plain")
    result = solve_setup(setup, refinement=COARSE, band=False)
    for name in ("tip_force_assembled", "clamp_max", "thread_load_max"):
        assert result.value(name) == approx(hand_made["bottomed, plain"].value(name), rel=2e-3), name


def test_a_gmsh_file_of_order_one_gives_what_the_same_mesh_in_vtu_gives(hand_made, own_boss, tmp_path):
    mesh = own_boss()
    corners = mesh.elements[:, :4]
    names = list(mesh.boundaries)
    lines = [mesh.facet_nodes[mesh.facets_of(name), :2] for name in names]
    used = int(corners.max()) + 1
    regions = np.concatenate([np.full(len(members), 50 + k) for k, members in enumerate(mesh.regions.values())])
    order = np.concatenate(list(mesh.regions.values()))
    tags = [regions, *[np.full(len(edges), 10 + k) for k, edges in enumerate(lines)]]
    content = meshio.Mesh(
        np.column_stack([mesh.nodes[:used], np.zeros(used)]),
        [("quad", corners[order]), *[("line", edges) for edges in lines]],
        cell_data={"gmsh:physical": tags, "gmsh:geometrical": tags},
        field_data={name: np.array([10 + k, 1]) for k, name in enumerate(names)}
        | {name: np.array([50 + k, 2]) for k, name in enumerate(mesh.regions)},
    )
    meshio.write(tmp_path / "own.msh", content, file_format="gmsh22", binary=False)
    text = few("hut-pump.toml").replace("[boss]\n", '[boss]\nmesh = "own.msh"\n')
    setup = case_from_text(text, "own.toml", tmp_path).setup("bottomed, plain")
    assert_alike(hand_made["bottomed, plain"], solve_setup(setup, refinement=COARSE, band=False), rel=1e-8)


def test_a_named_fillet_without_bands_still_gives_the_crack_margin(comparison, hut_pump, tmp_path):
    ours = comparison["bottomed, plain"].built.bodies[0].spec.mesh
    renamed = {{"mouth": "top", "fillet": "radius"}.get(name, name): facets for name, facets in ours.boundaries.items()}
    mesh = Mesh(ours.quads, {"casting": np.arange(ours.n_elements)}, renamed)
    names = 'mesh_names = { mouth = "top", fillet = "radius" }'
    setup = with_boss(few("hut-pump.toml"), tmp_path, mesh, names).setup("bottomed, plain")
    result = solve_setup(setup, refinement=COARSE, band=False)
    expected = comparison["bottomed, plain"].verdict.margins["boss crack (once)"].value
    assert result.verdict.margins["boss crack (once)"].value == approx(expected, rel=1e-9)
    assert result.value("floor_stress_max") is None


def test_crack_paths_start_on_the_meshs_own_fillet_where_it_differs_from_the_dimensions(tmp_path):
    text = few("hut-pump.toml")
    rounder = case_from_text(text.replace('corner_radius = "0.3 mm"', 'corner_radius = "0.5 mm"'))
    mesh = built_joint(rounder.setup("bottomed, plain"), refinement=COARSE).bodies[0].spec.mesh
    spec = built_joint(with_boss(text, tmp_path, mesh).setup("bottomed, plain"), refinement=COARSE).bodies[0].spec
    paths = [points for name, points in spec.stress_points.items() if name.startswith("floor path")]
    assert len(paths) == 5
    for points in paths:
        assert np.linalg.norm(points[0] - nearest_on(mesh, "fillet", points[0])) < 1e-3


def test_the_how_to_names_what_a_boss_file_holds_and_its_example_runs(tmp_path, monkeypatch, capsys, comparison):
    text = (CASES.parent / "docs" / "own-mesh.md").read_text()
    assert set(re.findall(r"^\| `(\w+)`", text, re.MULTILINE)) == set(NAMED)
    (tmp_path / "mesh").mkdir()
    write_mesh(tmp_path / "mesh" / "boss.vtu", comparison["bottomed, plain"].built.bodies[0].spec.mesh)
    monkeypatch.chdir(tmp_path)
    exec(text.partition("```python\n")[2].partition("```")[0], {})
    names, moved, coldest = capsys.readouterr().out.splitlines()
    assert "'mouth', 'mouth contact'" in names
    assert 0.0 < float(moved.split()[0]) < 0.1 and coldest == "110.0 degC"
