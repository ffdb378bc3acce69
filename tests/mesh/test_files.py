"""Mesh files keep every name; reference meshes are reproduced to the bit."""

from pathlib import Path

import meshio
import numpy as np
import pytest

from studwell.errors import BadMesh, StudwellError
from studwell.mesh.files import read_mesh, write_collection, write_fields, write_mesh
from studwell.mesh.reference import (
    distorted_patch,
    fillet_corner,
    hollow_sphere,
    ring,
    tapered_cylinder_section,
    write_reference_meshes,
)

ROOT = Path(__file__).parents[2]
MESHES = {
    "ring": ring(1.0, 2.0, 1.0, (3, 2)),
    "sphere": hollow_sphere(1.0, 2.0, (2, 3)),
    "taper": tapered_cylinder_section(),
    "fillet": fillet_corner(4.0, 0.5, 15.0, 6.0, 12.0),
    "patch": distorted_patch(),
}


@pytest.mark.parametrize("mesh", MESHES.values(), ids=MESHES)
def test_round_trip_keeps_nodes_regions_and_boundaries(mesh, tmp_path):
    back = read_mesh(write_mesh(tmp_path / "mesh.vtu", mesh))
    assert (back.nodes == mesh.nodes).all()
    assert (back.elements == mesh.elements).all()
    assert {name: list(members) for name, members in back.regions.items()} == {
        name: list(members) for name, members in mesh.regions.items()
    }
    assert {name: list(facets) for name, facets in back.boundaries.items()} == {
        name: list(facets) for name, facets in mesh.boundaries.items()
    }


def test_edge_of_two_boundaries_stays_on_both(tmp_path):
    mesh = MESHES["ring"].with_boundary("all", lambda r, z: r > 0)
    back = read_mesh(write_mesh(tmp_path / "mesh.vtu", mesh))
    assert len(back.facets_of("all")) == 10
    assert list(back.facets_of("bore")) == list(mesh.facets_of("bore"))


def test_reference_meshes_in_the_repository_are_what_the_code_writes(tmp_path):
    written = write_reference_meshes(tmp_path)
    kept = sorted((ROOT / "meshes").glob("*.vtu"))
    assert [path.name for path in written] == [path.name for path in kept]
    for new, old in zip(written, kept, strict=True):
        assert new.read_bytes() == old.read_bytes(), f"{old.name}: write it again or find what changed"


def gmsh_like(path, names=True, kind="quad"):
    points = np.array([[0, 0, 0], [1, 0, 0], [2, 0, 0], [2, 1, 0], [1, 1, 0], [0, 1, 0]], float)
    cells = [(kind, np.array([[0, 1, 4, 5], [1, 2, 3, 4]]) if kind == "quad" else np.array([[0, 1, 4], [0, 4, 5]]))]
    cells.append(("line", np.array([[0, 1], [1, 2]])))
    tags = [np.array([7, 7]), np.array([8, 8])]
    fields = {"body": np.array([7, 2]), "floor": np.array([8, 1])} if names else {}
    data = {"gmsh:physical": tags, "gmsh:geometrical": tags}
    meshio.write(path, meshio.Mesh(points, cells, cell_data=data, field_data=fields), file_format="gmsh22")
    return path


def test_first_order_gmsh_file_is_promoted_and_keeps_its_names(tmp_path):
    mesh = read_mesh(gmsh_like(tmp_path / "two.msh"))
    assert mesh.n_nodes == 15
    assert list(mesh.regions) == ["body"]
    middles = mesh.nodes[mesh.facet_nodes[mesh.facets_of("floor"), 2]]
    assert middles == pytest.approx(np.array([[0.5, 0.0], [1.5, 0.0]]))


def test_gmsh_file_with_triangles_or_without_names_is_refused(tmp_path):
    with pytest.raises(BadMesh, match="triangle"):
        read_mesh(gmsh_like(tmp_path / "triangles.msh", kind="triangle"))
    with pytest.raises(BadMesh, match="no name"):
        read_mesh(gmsh_like(tmp_path / "nameless.msh", names=False))


def test_missing_and_broken_files_are_errors_not_exits(tmp_path):
    with pytest.raises(StudwellError):
        read_mesh(tmp_path / "missing.vtu")
    (tmp_path / "broken.vtu").write_text("no mesh at all")
    with pytest.raises(StudwellError):
        read_mesh(tmp_path / "broken.vtu")


def test_field_file_reads_back_with_displacement_and_region_numbers(tmp_path):
    mesh = MESHES["fillet"]
    u = np.arange(mesh.n_unknowns, dtype=float)
    path = write_fields(tmp_path / "state.vtu", mesh, u, {"von Mises, MPa": np.ones(mesh.n_nodes)})
    back = meshio.read(path)
    assert (back.point_data["displacement"][:, :2].ravel() == u).all()
    assert (back.point_data["von Mises, MPa"] == 1).all()
    assert [block.type for block in back.cells] == ["quad9"]
    assert set(np.concatenate(back.cell_data["region"])) == {0}


def test_field_of_a_wrong_length_is_refused_and_leaves_no_file(tmp_path):
    with pytest.raises(ValueError, match="temperature"):
        write_fields(tmp_path / "state.vtu", MESHES["ring"], nodal={"temperature": np.ones(3)})
    assert list(tmp_path.iterdir()) == []


def test_collection_lists_files_with_their_times(tmp_path):
    text = write_collection(tmp_path / "run.pvd", [(0.0, "a.vtu"), (1.5, "b & c.vtu")]).read_text()
    assert 'timestep="1.5" part="0" file="b &amp; c.vtu"' in text
    assert text.index("a.vtu") < text.index("b &amp; c.vtu")


def test_write_to_a_missing_folder_is_an_error_of_ours(tmp_path):
    with pytest.raises(StudwellError):
        write_mesh(tmp_path / "none" / "mesh.vtu", MESHES["ring"])
