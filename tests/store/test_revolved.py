"""Revolved field files: they open in a general reader, with every name, and hold the section's numbers turned round."""

from __future__ import annotations

import math
from dataclasses import replace

import meshio
import numpy as np
import pytest
from pytest import approx

from studwell.errors import StudwellError
from studwell.store.fields import write_setup_fields
from studwell.store.revolved import (
    FEWEST,
    MOST_CELLS,
    POINT_ARRAYS,
    SECTORS,
    sectors_for,
    write_all_revolved,
    write_revolved,
)
from studwell.strength.moments import MOMENTS, file_stem, named_moments
from studwell.strength.recovery import recover

ANGLE, PARTS = 180.0, 6


@pytest.fixture(scope="module")
def result(comparison):
    return comparison["bottomed, plain"]


@pytest.fixture(scope="module")
def index(result):
    return named_moments(result.timeline, result.history.temperatures, result.outcomes, result.verdict)["hottest"]


@pytest.fixture(scope="module")
def found(result, index, tmp_path_factory):
    path = tmp_path_factory.mktemp("revolved") / "hot.vtu"
    return meshio.read(write_revolved(path, result, index, angle=ANGLE, sectors=PARTS))


def cylindrical(points):
    return np.hypot(points[:, 0], points[:, 1]), np.arctan2(points[:, 1], points[:, 0])


def test_names_of_bodies_and_regions_survive_on_every_cell(found, result):
    assert {block.type for block in found.cells} == {"hexahedron", "wedge"}
    for part in result.built.bodies:
        mesh = part.spec.mesh
        flags = np.concatenate([np.ravel(each) for each in found.cell_data[f"body:{part.spec.name}"]])
        assert np.count_nonzero(flags) == PARTS * mesh.n_elements
        for region, members in mesh.regions.items():
            flags = np.concatenate([np.ravel(each) for each in found.cell_data[f"region:{part.spec.name}: {region}"]])
            assert np.count_nonzero(flags) == PARTS * len(members)
    body = np.concatenate([np.ravel(each) for each in found.cell_data["body"]])
    assert np.count_nonzero(body >= 0) == PARTS * sum(p.spec.mesh.n_elements for p in result.built.bodies)


def test_each_body_lies_where_its_section_does_and_ends_at_the_angle(found, result):
    radius, angle = cylindrical(found.points)
    assert np.degrees(angle).max() == approx(ANGLE, abs=1e-4) and np.degrees(angle).min() > -1e-4
    for part in result.built.bodies:
        nodes = part.spec.mesh.nodes[part.spec.mesh.elements[:, :4]]
        used = set()
        for block, flags in zip(found.cells, found.cell_data[f"body:{part.spec.name}"], strict=True):
            used |= set(block.data[np.ravel(flags) == 1].ravel().tolist())
        own = sorted(used)
        assert radius[own].max() == approx(nodes[..., 0].max(), rel=1e-6)
        assert (found.points[own, 2].min(), found.points[own, 2].max()) == approx(
            (nodes[..., 1].min(), nodes[..., 1].max()), abs=1e-5
        )


def test_volume_is_the_sections_own_by_pappus_less_the_chords_of_the_sectors(found, result):
    total = 0.0
    for block in found.cells:
        points = found.points[block.data].astype(float)
        faces = {
            "hexahedron": ((0, 4, 7, 3), (1, 2, 6, 5), (0, 1, 5, 4), (3, 7, 6, 2), (0, 3, 2, 1), (4, 5, 6, 7)),
            "wedge": ((0, 2, 1), (3, 4, 5), (0, 1, 4, 3), (1, 2, 5, 4), (2, 0, 3, 5)),
        }[block.type]
        own = np.zeros(len(points))
        for face in faces:
            for a, b, c in [face[:3], (face[0], *face[2:])][: len(face) - 2]:
                own += np.einsum("mi,mi->m", points[:, a], np.cross(points[:, b], points[:, c])) / 6.0
        assert (own > 0.0).all(), block.type
        total += own.sum()
    expected = 0.0
    for part in result.built.bodies:
        r, z = part.spec.mesh.nodes[part.spec.mesh.elements[:, :4]].transpose(2, 0, 1)
        s, t = np.roll(r, -1, axis=1), np.roll(z, -1, axis=1)
        expected += math.radians(ANGLE) * np.sum((r + s) * (r * t - s * z)) / 6.0
    step = math.radians(ANGLE / PARTS)
    assert total == approx(expected * math.sin(step) / step, rel=2e-5)  # points are in single precision


def test_fields_are_those_of_the_plane_file_turned_to_their_angle(found, result, index):
    assert tuple(found.point_data) == POINT_ARRAYS
    boss = recover(result.built, result.timeline, result.history.temperatures, [index])[0]
    radius, angle = cylindrical(found.points)
    assert boss.name == "boss"
    nodes = np.unique(boss.mesh.elements[:, :4])
    lowest = nodes[
        np.argsort(boss.mesh.nodes[nodes, 1])[:40]
    ]  # below all other bodies, so that places are the boss's own
    for node in lowest:
        r, z = boss.mesh.nodes[node]
        here = np.nonzero((np.abs(radius - r) < 1e-4) & (np.abs(found.points[:, 2] - z) < 1e-4))[0]
        assert len(here) == (1 if r < 1e-9 else PARTS + 1)
        u, w = boss.displacement[0, node]
        turned = np.column_stack([u * np.cos(angle[here]), u * np.sin(angle[here]), np.full(len(here), w)])
        assert found.point_data["displacement_mm"][here] == approx(turned, rel=1e-5, abs=1e-8)
        for place in here:
            assert found.point_data["stress_MPa"][place] == approx(boss.stress[0, node], rel=1e-5, abs=1e-4)
        assert found.point_data["temperature_degC"][here] == approx(boss.temperature[0, node], rel=1e-6)


def test_the_tensor_in_x_y_z_has_the_invariants_of_the_stress_in_r_and_z(found):
    rr, hoop, zz, rz = found.point_data["stress_MPa"].astype(float).T
    xx, yy, zz_, xy, yz, xz = found.point_data["stress_tensor_MPa"].astype(float).T
    scale = float(np.abs(found.point_data["stress_MPa"]).max())
    assert xx + yy + zz_ == approx(rr + hoop + zz, abs=1e-5 * scale)
    assert xx * yy - xy**2 + (xx + yy) * zz_ - xz**2 - yz**2 == approx(
        rr * hoop + (rr + hoop) * zz - rz**2, abs=1e-5 * scale**2
    )
    highest = np.linalg.eigvalsh(np.moveaxis(np.array([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz_]]), 2, 0))[:, -1]
    assert highest == approx(found.point_data["first_principal_stress_MPa"], abs=1e-4 * scale)


def test_sectors_are_ten_degrees_until_a_file_would_grow_too_large():
    assert sectors_for(1500) == SECTORS == 27
    middling = 25_000
    assert FEWEST < sectors_for(middling) < SECTORS and sectors_for(middling) * middling < MOST_CELLS + middling
    assert sectors_for(10**6) == FEWEST == 9
    assert sectors_for(1500, angle=360.0) == 36 and sectors_for(10**6, angle=90.0) == 3


def test_a_folder_gets_the_moments_of_every_setup_and_the_same_bytes_again(comparison, result, tmp_path):
    one = replace(comparison, results=(result,))
    paths = write_all_revolved(tmp_path, one)
    assert [path.name for path in paths] == [f"{file_stem(moment)}-revolved.vtu" for moment in MOMENTS]
    plane = write_setup_fields(tmp_path / "plane", result).parent / "worst.vtu"
    worst = next(path for path in paths if path.name == "worst-revolved.vtu")
    assert worst.stat().st_size < 12 * plane.stat().st_size  # 27 sectors, of a quarter of the nodes, planes repeating
    again = write_all_revolved(tmp_path / "again", one)
    assert [path.read_bytes() for path in again] == [path.read_bytes() for path in paths]


def test_an_angle_out_of_range_is_refused(result, index, tmp_path):
    with pytest.raises(StudwellError, match="angle = 400"):
        write_revolved(tmp_path / "x.vtu", result, index, angle=400.0)
    assert not list(tmp_path.iterdir())
