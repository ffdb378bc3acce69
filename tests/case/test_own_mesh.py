"""A boss mesh of the user's own in a case file: what is taken from it, what is refused and in which words."""

from dataclasses import replace

import meshio
import numpy as np
import pytest
from pytest import approx

from studwell.case import case_from_text, inputs_sha256, read_case
from studwell.errors import BadCase
from studwell.mesh.files import write_mesh
from studwell.mesh.mesh import Mesh


@pytest.fixture
def with_mesh(good, tmp_path):
    """Function: further lines of [boss] -> the case read from a folder with the mesh file in it."""

    def read(lines='mesh = "own.vtu"'):
        return case_from_text(good.replace("[boss]\n", f"[boss]\n{lines}\n"), "pump.toml", tmp_path)

    return read


def refusal(read, *lines):
    with pytest.raises(BadCase) as caught:
        read(*lines)
    return caught.value


def without(mesh, name, called=None):
    rest = {key: facets for key, facets in mesh.boundaries.items() if key != name}
    return Mesh(mesh.quads, mesh.regions, rest | ({called: mesh.boundaries[name]} if called else {}))


def test_the_lines_of_thread_seat_and_mouth_are_taken_from_the_mesh(with_mesh, own_boss, tmp_path):
    write_mesh(tmp_path / "own.vtu", own_boss())
    own = with_mesh().setups[0].boss.own_mesh
    assert own.thread_lines == approx(np.linspace(2.2, 14.2, 16))
    assert own.seat_lines == approx([0.0, 0.9, 1.7, 2.3, 2.75])
    assert own.mouth_lines == approx([4.1, 4.5, 5.4, 6.4, 7.4, 8.6, 10.0, 11.0, 12.5, 14.0])


def test_the_mesh_lies_beside_the_case_file_and_other_names_are_mapped(good, own_boss, tmp_path):
    (tmp_path / "sub").mkdir()
    write_mesh(tmp_path / "sub" / "own.vtu", without(own_boss(), "outer", "rim"))
    names = '[boss.mesh_names]\nouter = "rim"\n\n[stud]'
    text = good.replace("[boss]\n", '[boss]\nmesh = "sub/own.vtu"\n').replace("[stud]", names)
    (tmp_path / "pump.toml").write_text(text)
    own = read_case(tmp_path / "pump.toml").setups[0].boss.own_mesh
    assert "outer" in own.mesh.boundaries and "rim" not in own.mesh.boundaries


def test_the_fingerprint_follows_the_files_bytes_and_not_its_name(with_mesh, own_boss, tmp_path):
    write_mesh(tmp_path / "own.vtu", own_boss())
    write_mesh(tmp_path / "same.vtu", own_boss())
    write_mesh(tmp_path / "finer.vtu", own_boss(seat=(0.0, 0.5, 0.9, 1.7, 2.3, 2.75)))
    first, same, finer, none = (
        inputs_sha256(replace(with_mesh(lines), file=""))
        for lines in ('mesh = "own.vtu"', 'mesh = "same.vtu"', 'mesh = "finer.vtu"', "")
    )
    assert first == same
    assert len({first, finer, none}) == 3


def test_an_edge_on_the_mouth_that_nearly_meets_a_line_is_moved_onto_it(with_mesh, own_boss, tmp_path):
    mouth = (4.1, 4.512, 5.4, 6.4, 7.4, 8.6, 10.0, 10.99, 12.5, 14.0)
    write_mesh(tmp_path / "own.vtu", own_boss(mouth=mouth))
    gasket, barrel = with_mesh().setups[0].stack
    assert gasket.inner_diameter == barrel.inner_diameter == approx(2 * 4.512, abs=1e-9)
    assert (gasket.outer_diameter, barrel.outer_diameter) == (24.0, approx(2 * 10.99, abs=1e-9))


def test_an_edge_on_the_mouth_that_meets_no_line_is_refused_with_the_radius_that_is_needed(
    with_mesh, own_boss, tmp_path
):
    write_mesh(tmp_path / "own.vtu", own_boss(mouth=(4.1, 4.5, 5.4, 6.4, 7.4, 8.6, 10.0, 12.5, 14.0)))
    error = refusal(with_mesh)
    assert error.key == '[[stack]] "barrel" outer_diameter'
    assert "line of the mouth at a radius of 11 mm" in error.allowed and "10 mm and 12.5 mm" in error.problem


def test_nodes_a_little_off_their_line_are_moved_onto_it(with_mesh, own_boss, tmp_path):
    mesh = own_boss()
    noise = np.random.default_rng(3).uniform(-2e-4, 2e-4, mesh.nodes.shape)
    noise[mesh.nodes[:, 0] < 1e-9] = 0.0
    write_mesh(tmp_path / "own.vtu", mesh.with_nodes(mesh.nodes + noise))
    own = with_mesh().setups[0].boss.own_mesh.mesh
    for name, component in (("thread", 0), ("mouth", 1), ("seat", 1)):
        edges = own.nodes[own.facet_nodes[own.facets_of(name)]]
        assert np.ptp(edges[:, :, component]) < 1e-12
        assert edges[:, 2] == approx(0.5 * (edges[:, 0] + edges[:, 1]), abs=1e-12)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"mouth": (4.1, 4.5, 5.4, 7.4, 10.0, 11.0, 12.5, 14.1)}, "outer radius is 14.1 mm in the mesh and 14 mm"),
        ({"depth": 15.2}, "15.2 mm in the mesh and 15 mm by hole_depth"),
        ({"floor": 5.5}, "floor's thickness is 5.5 mm in the mesh and 6 mm"),
        ({"thread": 3.7}, "thread's radius is 3.7 mm in the mesh and 3.5941 mm by the pitch diameter of M8"),
        ({"low": 2.5}, "lower end of the engaged thread is 2.5 mm in the mesh and 2.2 mm"),
        ({"high": 13.9}, "upper end of the engaged thread is 13.9 mm in the mesh and 14.2 mm"),
        ({"seat": (0.0, 0.9, 1.7, 2.76)}, "seat's outer radius is 2.76 mm in the mesh and 2.75 mm"),
    ],
    ids=lambda value: next(iter(value)) if isinstance(value, dict) else "",
)
def test_a_dimension_that_the_mesh_contradicts_is_refused_with_both_numbers(
    with_mesh, own_boss, tmp_path, changes, words
):
    write_mesh(tmp_path / "own.vtu", own_boss(**changes))
    error = refusal(with_mesh)
    assert words in error.problem
    assert (error.slug, error.key, error.value) == ("cannot-fit", "[boss] mesh", "own.vtu")


@pytest.mark.parametrize(("factor", "unit"), [(1e-3, "metres"), (1 / 25.4, "inches")])
def test_a_mesh_in_another_unit_is_recognised(with_mesh, own_boss, tmp_path, factor, unit):
    mesh = own_boss()
    write_mesh(tmp_path / "own.vtu", mesh.with_nodes(factor * mesh.nodes))
    assert f"seems to be in {unit}" in refusal(with_mesh).problem


def test_a_missing_boundary_is_refused_with_the_nearest_name(with_mesh, own_boss, tmp_path):
    write_mesh(tmp_path / "own.vtu", without(own_boss(), "thread", "threads"))
    error = refusal(with_mesh)
    assert error.slug == "unknown-name"
    assert 'no boundary "thread" in own.vtu; did you mean threads?' in error.problem
    error = refusal(with_mesh, 'mesh = "own.vtu"\nmesh_names = { thread = "flank" }')
    assert error.key == "[boss.mesh_names] thread" and "mouth, outer" in error.allowed


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("none.vtu", None, "no such file"),
        ("text.vtu", "hello", "not readable as a mesh"),
        ("text.msh", "hello", "not readable as a mesh"),
        ("mesh.unknown", "hello", "Could not deduce file format"),
        ("cut.vtu", '<?xml version="1.0"?><VTKFile type="UnstructuredGrid">', "not readable as a mesh"),
    ],
    ids=lambda value: value if isinstance(value, str) and "." in value and " " not in value else "",
)
def test_a_file_that_is_no_mesh_is_refused_plainly_and_nothing_else_is_printed(
    with_mesh, tmp_path, capsys, name, content, words
):
    if content is not None:
        (tmp_path / name).write_text(content)
    error = refusal(with_mesh, f'mesh = "{name}"')
    assert words in error.problem and error.slug == "file-not-readable"
    assert capsys.readouterr() == ("", "")


def test_triangles_are_refused_because_only_quadrilaterals_are_solved(with_mesh, tmp_path):
    points = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0]], float)
    meshio.write(tmp_path / "own.vtu", meshio.Mesh(points, [("triangle", np.array([[0, 1, 2]]))]))
    error = refusal(with_mesh)
    assert "triangle; only quadrilaterals" in error.problem and error.slug == "bad-mesh"


def test_folded_elements_are_refused(with_mesh, own_boss, tmp_path):
    mesh = own_boss()
    nodes = mesh.nodes.copy()
    inner = mesh.elements[len(mesh.elements) // 2, 8]
    nodes[inner] += [3.0, 0.0]
    write_mesh(tmp_path / "own.vtu", mesh.with_nodes(nodes))
    assert "folded" in refusal(with_mesh).problem


def test_a_boundary_in_pieces_is_refused(with_mesh, own_boss, tmp_path):
    mesh = own_boss()
    facets = np.delete(mesh.facets_of("thread"), 6)
    write_mesh(tmp_path / "own.vtu", Mesh(mesh.quads, mesh.regions, {**mesh.boundaries, "thread": facets}))
    assert '"thread" is in 2 pieces' in refusal(with_mesh).problem


def test_what_is_not_solved_or_needs_a_mesh_is_said(with_mesh, own_boss, tmp_path):
    write_mesh(tmp_path / "own.vtu", own_boss())
    error = refusal(with_mesh, 'mesh = "own.vtu"\nsubdomains = { wall = "a380 die" }')
    assert error.slug == "not-solved-here" and "several materials in one boss" in error.problem
    assert refusal(with_mesh, 'mesh_names = { seat = "floor" }').slug == "missing-key"
    assert "did you mean seat?" in refusal(with_mesh, 'mesh = "own.vtu"\nmesh_names = { seet = "floor" }').problem
