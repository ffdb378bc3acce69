"""Small meshes of known bodies, for checks and for meshes/: ring, hollow sphere, benchmark section, fillet."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from studwell.mesh.blocks import Block, Curve, GridBlock, arc, build, graded, grid_block
from studwell.mesh.files import write_mesh
from studwell.mesh.mesh import Floats, Mesh, mesh_of

DECIMALS = 9
"""Decimals (mm) to which the written reference meshes are rounded, so that any machine writes the same."""


def ring(inner: float, outer: float, height: float, divisions: tuple[int, int], ratio: float = 1.0) -> Mesh:
    """Return a cylinder of rectangular section with boundaries bore (or none), outside, bottom, top.

    inner, outer, height : mm; inner 0 gives a solid disc without a bore
    divisions            : elements along r and z;  ratio : outermost over innermost element width
    """
    corners = [[inner, 0.0], [outer, 0.0], [outer, height], [inner, height]]
    tags = {"south": "bottom", "north": "top", "east": "outside"}
    if inner > 0:
        tags["west"] = "bore"
    return build([Block(corners, divisions, "ring", tags, u_spacing=graded(divisions[0], ratio))])


def hollow_sphere(inner: float, outer: float, divisions: tuple[int, int], ratio: float = 1.0) -> Mesh:
    """Return the upper half of a hollow sphere with boundaries cavity, outside, equator.

    inner, outer : mm;  divisions : elements along the radius and round the quarter circle
    ratio        : outermost over innermost element
    """
    corners = [[inner, 0.0], [outer, 0.0], [0.0, outer], [0.0, inner]]
    curves = {"east": arc((0, 0), outer, 0, 90), "west": arc((0, 0), inner, 0, 90)}
    tags = {"west": "cavity", "east": "outside", "south": "equator"}
    spacing = graded(divisions[0], ratio)
    return build([Block(corners, divisions, "shell", tags, u_spacing=spacing, curves=curves)])


def tapered_cylinder_section(refinement: int = 1) -> Mesh:
    """Return the section of the NAFEMS benchmark LE11: a solid of cylinder, taper and sphere; mm.

    Boundaries: base (z = 0), top, inner, outer. The radius-1000 arc and the radius-1400 arc are curved.

    refinement : int, 1 gives 2 x 6 elements
    Source: NAFEMS, The Standard NAFEMS Benchmarks, TNSB rev. 3 (1990), test LE11.
    """
    n = refinement
    inner45 = 1000.0 * np.sqrt(0.5)
    at22 = 1000.0 * np.array([np.cos(np.pi / 8), np.sin(np.pi / 8)])
    lower_angle, outer_angle = 22.5, 30.0
    d = 1400.0 * np.array([np.cos(np.pi / 6), 0.5])
    f, g = np.array([1106.2, 1045.0]), np.array([1000.0, 1390.0])
    e, h = np.array([inner45, inner45]), np.array([inner45, 1390.0])

    def block(
        corners: list[ArrayLike],
        along: int,
        curves: dict[str, Curve] | None = None,
        tags: dict[str, str] | None = None,
    ) -> Block:
        named = {"west": "inner", "east": "outer"} | (tags or {})
        return Block(np.array(corners, float), (2 * n, along * n), "solid", named, curves=curves or {})

    return build([
        block([[1000.0, 0.0], [1400.0, 0.0], d, at22], 2, {
            "west": arc((0, 0), 1000.0, 0.0, lower_angle), "east": arc((0, 0), 1400.0, 0.0, outer_angle),
        }, {"south": "base"}),
        block([at22, d, f, e], 1, {"west": arc((0, 0), 1000.0, lower_angle, 45.0)}),
        block([e, f, g, h], 1),
        block([h, g, [1000.0, 1790.0], [inner45, 1790.0]], 2, None, {"north": "top"}),
    ])  # fmt: skip


def fillet_corner(
    hole_radius: float, fillet_radius: float, outer_radius: float, floor: float, height: float, refinement: int = 1
) -> Mesh:
    """Return a round boss with a flat-bottomed hole whose floor corner is a meshed fillet.

    Boundaries: floor (inside the fillet), fillet, wall, mouth, outside, bottom. z = 0 is the floor.

    all lengths in mm; floor is the thickness under the hole, height the hole's depth
    """
    a, b, rho, n = hole_radius, outer_radius, fillet_radius, refinement
    centre = np.array([a - rho, rho])
    middle = centre + rho * np.array([np.sqrt(0.5), -np.sqrt(0.5)])
    below, beside = np.array([a - rho, -floor]), np.array([b, rho])
    across = graded(3 * n, 0.1)
    return build([
        Block(np.array([[0.0, -floor], below, [a - rho, 0.0], [0.0, 0.0]]), (4 * n, 3 * n), "boss",
              {"south": "bottom", "north": "floor"}, u_spacing=graded(4 * n, 0.2), v_spacing=across),
        Block(np.array([below, [b, -floor], middle, [a - rho, 0.0]]), (2 * n, 3 * n), "boss",
              {"south": "bottom", "north": "fillet"}, v_spacing=across,
              curves={"north": arc(centre, rho, 270.0, 315.0)}),
        Block(np.array([middle, [b, -floor], beside, [a, rho]]), (3 * n, 2 * n), "boss",
              {"east": "outside", "west": "fillet"}, u_spacing=1.0 - across[::-1],
              curves={"west": arc(centre, rho, 315.0, 360.0)}),
        Block(np.array([[a, rho], beside, [b, height], [a, height]]), (3 * n, 4 * n), "boss",
              {"east": "outside", "west": "wall", "north": "mouth"},
              u_spacing=1.0 - across[::-1], v_spacing=graded(4 * n, 5.0)),
    ])  # fmt: skip


def distorted_patch(inner: float = 2.0, size: float = 4.0) -> Mesh:
    """Return a rectangle of 4 x 4 skewed elements beside a block with a curved edge, for the patch test.

    Boundaries: rim, all round. inner : mm, least r;  size : mm
    """
    i, j = np.meshgrid(np.arange(5), np.arange(5), indexing="ij")
    shift = np.zeros((5, 5, 2))
    inside = (i > 0) & (i < 4) & (j > 0) & (j < 4)
    shift[..., 0] = np.where(inside, 0.28 * np.sin(2.1 * i + 3.7 * j), 0.0)
    shift[..., 1] = np.where(inside, 0.28 * np.cos(4.3 * i - 1.9 * j), 0.0)
    vertices = (np.stack([i, j], axis=-1) + shift) * size / 4 + np.array([inner, 0.0])
    left = inner + size
    bulge = [[left, 0.0], [left + size, 0.0], [left + size, size], [left, size]]

    def east(t: Floats) -> Floats:
        return np.stack([left + size + 0.8 * size * t * (1 - t), size * t], axis=-1)

    flat = {"south": "rim", "west": "rim", "north": "rim"}
    patch: GridBlock = grid_block(vertices, "patch", flat)
    curved = Block(bulge, (2, 4), "patch", {"south": "rim", "east": "rim", "north": "rim"}, curves={"east": east})
    return build([patch, curved])


def write_reference_meshes(folder: str | Path) -> list[Path]:
    """Write the reference meshes to a folder as VTU files, bit for bit the same each time.

    returns : the paths written, in order of name
    raises StudwellError : a file cannot be written
    """
    meshes = {
        "distorted-patch.vtu": distorted_patch(),
        "fillet-corner.vtu": fillet_corner(4.0, 0.5, 15.0, 6.0, 12.0),
        "tapered-cylinder.vtu": tapered_cylinder_section(),
    }
    return [write_mesh(Path(folder) / name, _rounded(mesh)) for name, mesh in meshes.items()]


def _rounded(mesh: Mesh) -> Mesh:
    nodes = np.round(mesh.nodes, DECIMALS) + 0.0
    ends = {name: mesh.facet_nodes[facets, :2] for name, facets in mesh.boundaries.items()}
    return mesh_of(mesh.elements[:, :4], nodes[mesh.elements], mesh.regions, ends)
