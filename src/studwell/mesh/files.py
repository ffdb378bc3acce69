"""Mesh files, written whole or not at all: VTU with regions, boundaries and fields; order-1 Gmsh files are read."""

from __future__ import annotations

import io
import os
import re
import tempfile
from collections.abc import Mapping, Sequence
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from xml.sax.saxutils import quoteattr

import meshio
import numpy as np
from numpy.typing import ArrayLike

from studwell.errors import BadMesh, StudwellError
from studwell.mesh.blocks import check
from studwell.mesh.mesh import Floats, Ints, Mesh, mesh_of

REGION, BOUNDARY = "region:", "boundary:"
"""Prefixes of the 0/1 cell arrays that carry names through a VTU file."""


def write_mesh(path: str | Path, mesh: Mesh) -> Path:
    """Write a mesh to a VTU file with its regions and boundaries, bit for bit the same each time.

    Elements are nine-node quadrilaterals, edges of named boundaries three-node lines; a cell array
    "region:NAME" or "boundary:NAME" is 1 on the members.

    path    : file name ending in .vtu;  returns the path
    raises StudwellError : the file cannot be written
    """
    facets = np.unique(np.concatenate([np.zeros(0, np.int64), *mesh.boundaries.values()]))
    cells: list[tuple[str, Ints]] = [("quad9", mesh.elements)]
    if len(facets):
        cells.append(("line3", mesh.facet_nodes[facets]))
    data: dict[str, list[ArrayLike]] = {}
    for name, members in mesh.regions.items():
        data[REGION + name] = [_flags(np.arange(mesh.n_elements), members), np.zeros(len(facets), np.uint8)]
    for name, members in mesh.boundaries.items():
        data[BOUNDARY + name] = [np.zeros(mesh.n_elements, np.uint8), _flags(facets, members)]
    data = {name: arrays[: len(cells)] for name, arrays in data.items()}
    return _write(path, meshio.Mesh(_points(mesh.nodes), cells, cell_data=data))


def read_mesh(path: str | Path) -> Mesh:
    """Read a mesh of quadrilaterals: a VTU file of `write_mesh`, or an order-1 Gmsh .msh with physical names.

    Four-node quadrilaterals get straight edges and middle nodes; x is r and y is z, mm.

    raises BadMesh       : other cells, three-dimensional points, a region or boundary without a name,
                           or a mesh that `check` refuses
    raises StudwellError : no such file, or not readable as a mesh
    """
    source = Path(path)
    try:
        with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()):  # meshio prints what it cannot read
            found = meshio.read(source)
    except SystemExit as error:
        raise StudwellError(f"{source.name}: not readable as a mesh", slug="file-not-readable") from error
    except Exception as error:  # whatever a reader of many formats trips over
        known = isinstance(error, OSError | meshio.ReadError | ValueError | KeyError) and str(error)
        problem = str(error) if known else f"not readable as a mesh ({type(error).__name__})"
        raise StudwellError(f"{source.name}: {problem}", slug="file-not-readable") from error
    quads = _cells(found, ("quad9", "quad"))
    lines = _cells(found, ("line3", "line"))
    other = sorted({block.type for block in found.cells} - {"quad9", "quad", "line3", "line", "vertex"})
    if other or len(quads) != 1:
        kinds = ", ".join(block.type for block in found.cells)
        raise BadMesh(
            f"{source.name}: cells are {kinds}; only quadrilaterals of one kind (quad or quad9) are solved, with lines "
            "for named boundaries"
        )
    points = np.asarray(found.points, float)
    if points.shape[1] == 3 and np.abs(points[:, 2]).max() > 0:
        raise BadMesh(f"{source.name}: the third coordinate is not zero; x is r and y is z")
    points = points[:, :2]
    number = quads[0]
    cells = np.asarray(found.cells[number].data, np.int64)
    positions = _nine(points, cells)
    used, joined = np.unique(cells[:, :4], return_inverse=True)
    corners = joined.reshape(-1, 4)
    renumber = np.full(len(points), -1, np.int64)
    renumber[used] = np.arange(len(used))
    regions = _named(found, REGION, quads, "surface")
    ends: dict[str, list[Ints]] = {}
    for block in lines:
        pairs = np.asarray(found.cells[block].data, np.int64)[:, :2]
        for name, members in _named(found, BOUNDARY, [block], "line").items():
            ends.setdefault(name, []).append(renumber[pairs[members]])
    mesh = mesh_of(corners, positions, regions, {name: np.concatenate(list_) for name, list_ in ends.items()})
    if (mesh.element_region < 0).any():
        raise BadMesh(f"{source.name}: {(mesh.element_region < 0).sum()} elements belong to no named region")
    check(mesh)
    return mesh


def write_fields(
    path: str | Path,
    mesh: Mesh,
    displacement: ArrayLike | None = None,
    nodal: Mapping[str, ArrayLike] | None = None,
    cell: Mapping[str, ArrayLike] | None = None,
) -> Path:
    """Write a mesh with fields on it to a VTU file for a viewer; `region` is a cell array of numbers.

    displacement : (N, 2) or (2 N,), mm, or None
    nodal        : name -> (N,) or (N, k)
    cell         : name -> (M,) or (M, k)
    raises ValueError    : a field of another length
    raises StudwellError : the file cannot be written
    """
    point_data: dict[str, ArrayLike] = {}
    if displacement is not None:
        u = np.asarray(displacement, float).reshape(-1, 2)
        point_data["displacement"] = _points(u)
    point_data.update({name: np.asarray(values) for name, values in (nodal or {}).items()})
    cell_data: dict[str, list[ArrayLike]] = {"region": [mesh.element_region.astype(np.int32)]}
    cell_data.update({name: [np.asarray(values)] for name, values in (cell or {}).items()})
    for name, values in point_data.items():
        if len(np.asarray(values)) != mesh.n_nodes:
            raise ValueError(f"field {name!r} has {len(np.asarray(values))} values; allowed: {mesh.n_nodes}")
    for name, arrays in cell_data.items():
        if len(np.asarray(arrays[0])) != mesh.n_elements:
            raise ValueError(f"field {name!r} has {len(np.asarray(arrays[0]))} values; allowed: {mesh.n_elements}")
    cells = [("quad9", mesh.elements)]
    return _write(path, meshio.Mesh(_points(mesh.nodes), cells, point_data=point_data, cell_data=cell_data))


def write_collection(path: str | Path, entries: Sequence[tuple[float, str]]) -> Path:
    """Write a .pvd file that lists field files in time.

    entries : (time in s, file name relative to the .pvd file), in order
    raises StudwellError : the file cannot be written
    """
    lines = [
        f'    <DataSet timestep="{float(time)!r}" part="0" file={quoteattr(str(name))}/>' for time, name in entries
    ]
    text = "\n".join(['<?xml version="1.0"?>', '<VTKFile type="Collection" version="0.1">', "  <Collection>",
                      *lines, "  </Collection>", "</VTKFile>", ""])  # fmt: skip
    return _whole(Path(path), text.encode())


def _write(path: str | Path, content: meshio.Mesh) -> Path:
    target = Path(path)
    with tempfile.TemporaryDirectory() as folder:
        draft = Path(folder) / "draft.vtu"
        meshio.vtu.write(draft, content, binary=True, compression=None)
        text = re.sub(rb"<!--.*?-->", b"", draft.read_bytes(), flags=re.DOTALL)
    return _whole(target, text)


def _whole(target: Path, content: bytes) -> Path:
    """Write a file so that it is there entirely or not at all."""
    draft = None
    try:
        handle, draft = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.")
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        os.chmod(draft, 0o644)
        os.replace(draft, target)
    except OSError as error:
        if draft is not None:
            Path(draft).unlink(missing_ok=True)
        raise StudwellError(f"{target}: {error.strerror or error}", slug="file-not-readable") from error
    return target


def _points(plane: Floats) -> Floats:
    return np.column_stack([plane, np.zeros(len(plane))])


def _flags(all_members: Ints, members: Ints) -> ArrayLike:
    return np.isin(all_members, members).astype(np.uint8)


def _cells(found: meshio.Mesh, kinds: Sequence[str]) -> list[int]:
    return [number for number, block in enumerate(found.cells) if block.type in kinds]


def _nine(points: Floats, cells: Ints) -> Floats:
    corners = points[cells[:, :4]]
    if cells.shape[1] == 9:
        return points[cells]
    middles = 0.5 * (corners + np.roll(corners, -1, axis=1))
    return np.concatenate([corners, middles, corners.mean(axis=1, keepdims=True)], axis=1)


def _named(found: meshio.Mesh, prefix: str, blocks: Sequence[int], kind: str) -> dict[str, Ints]:
    """Members of each name among the cells of some blocks, numbered through those blocks."""
    members: dict[str, Ints] = {}
    for key, arrays in found.cell_data.items():
        if key.startswith(prefix):
            flags = np.concatenate([np.asarray(arrays[block]).ravel() for block in blocks])
            if flags.any():
                members[key.removeprefix(prefix)] = np.nonzero(flags)[0]
    if "gmsh:physical" in found.cell_data:
        tags = np.concatenate([np.asarray(found.cell_data["gmsh:physical"][block]) for block in blocks])
        dimension = 2 if kind == "surface" else 1
        names = {int(tag): name for name, (tag, dim) in found.field_data.items() if dim == dimension}
        for tag in np.unique(tags):
            if int(tag) not in names:
                raise BadMesh(f"physical {kind} {tag} has no name")
            members[names[int(tag)]] = np.nonzero(tags == tag)[0]
    return members
