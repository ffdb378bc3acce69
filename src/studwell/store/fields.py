"""Whole fields of setups as VTU files for a viewer: one file a moment with all bodies, one collection a setup."""

from __future__ import annotations

import base64
import struct
import zlib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Literal
from xml.sax.saxutils import quoteattr

import numpy as np

from studwell.mesh.files import write_collection
from studwell.store.summary import folder_names
from studwell.store.writing import write_bytes, write_json
from studwell.strength.moments import MEANINGS, file_stem, named_moments
from studwell.strength.recovery import BodyFields, SpaceCache, recover
from studwell.study.results import Comparison, SetupResult

Array = np.ndarray
Which = Literal["moments", "all"]

POINT_ARRAYS = (
    "displacement_mm",
    "temperature_degC",
    "stress_MPa",
    "first_principal_stress_MPa",
    "von_mises_stress_MPa",
)
"""Point arrays of every file; stress_MPa has the components rr, hoop, zz, rz."""
CELL_ARRAYS = ("body", "region")
"""Cell arrays: numbers into the lists of legend.json."""

COMPONENTS = ("rr", "hoop", "zz", "rz")
NINE_NODE_QUADRILATERAL = 28
"""VTK's cell type of a biquadratic quadrilateral. Source: The VTK User's Guide, VTK file formats."""
STEPS_AT_ONCE = 20


def write_all_fields(directory: Path, comparison: Comparison, which: Which = "moments") -> tuple[Path, ...]:
    """Write the field files of every solved setup under directory/fields; see `write_setup_fields`.

    returns : the collections, one a setup, in the comparison's order
    raises CannotWrite, StudwellError : a file that cannot be written
    """
    cache: SpaceCache = {}
    folders = folder_names([result.name for result in comparison.results])
    written = []
    for result in comparison.results:
        written.append(write_setup_fields(Path(directory) / "fields" / folders[result.name], result, which, cache))
    return tuple(written)


def write_setup_fields(
    folder: Path, result: SetupResult, which: Which = "moments", cache: SpaceCache | None = None
) -> Path:
    """Write one setup's fields: a VTU file a moment, legend.json and the collection series.pvd.

    which   : "moments" writes those of strength.moments; "all" also every state of the history
    cache   : spaces shared between setups
    returns : path of the collection; it lists one file an instant, since a viewer orders by time (s)
    raises CannotWrite, StudwellError : a file that cannot be written

    Bodies that touch keep their own nodes, so that a gap or a slip can be seen. Same inputs, same bytes.
    """
    timeline = result.timeline
    moments = named_moments(timeline, result.history.temperatures, result.outcomes, result.verdict)
    files = {file_stem(name): index for name, index in moments.items()}
    meant = {file_stem(name): {"is": words} for name, words in MEANINGS.items()}
    if which == "all":
        files |= {f"state-{index:04d}": index for index in range(len(timeline.states))}
    grid = Grid(result)
    for names, bodies in _recovered(result, files, cache):
        for place, name in enumerate(names):
            write_bytes(folder / f"{name}.vtu", grid.file(point_arrays(bodies, place)))
    write_json(
        folder / "legend.json",
        {
            "setup": result.name,
            "bodies": list(grid.bodies),
            "regions": list(grid.regions),
            "files": {
                f"{name}.vtu": {
                    "when": timeline.when(index),
                    "time_s": float(timeline.times[index]),
                    **meant.get(name, {}),
                }
                for name, index in files.items()
            },
        },
    )
    entries: dict[float, str] = {}
    for name, index in sorted(files.items(), key=lambda item: (item[1] not in timeline.run, item[1])):
        entries.setdefault(float(timeline.times[index]), f"{name}.vtu")
    return write_collection(folder / "series.pvd", sorted(entries.items()))


def _recovered(
    result: SetupResult, files: Mapping[str, int], cache: SpaceCache | None
) -> Iterator[tuple[list[str], tuple[BodyFields, ...]]]:
    """Yield names and fields of so many states at a time that memory stays small."""
    shared: SpaceCache = {} if cache is None else cache
    names = list(files)
    for start in range(0, len(names), STEPS_AT_ONCE):
        some = names[start : start + STEPS_AT_ONCE]
        indices = [files[name] for name in some]
        yield some, recover(result.built, result.timeline, result.history.temperatures, indices, shared)


def point_arrays(bodies: tuple[BodyFields, ...], place: int) -> dict[str, Array]:
    """Return POINT_ARRAYS of all bodies together in one state, (nodes,) or (nodes, components) each.

    place : which of the states that the fields hold
    """
    displacement = np.concatenate([body.displacement[place] for body in bodies])
    return {
        "displacement_mm": np.column_stack([displacement, np.zeros(len(displacement))]),
        "temperature_degC": np.concatenate([body.temperature[place] for body in bodies]),
        "stress_MPa": np.concatenate([body.stress[place] for body in bodies]),
        "first_principal_stress_MPa": np.concatenate([body.first_principal[place] for body in bodies]),
        "von_mises_stress_MPa": np.concatenate([body.von_mises[place] for body in bodies]),
    }


class Grid:
    """The unchanging part of one setup's files: points, cells, body and region numbers, encoded once.

    bodies, regions : names by number
    """

    def __init__(self, result: SetupResult) -> None:
        meshes = [body.spec.mesh for body in result.built.bodies]
        self.bodies = tuple(body.spec.name for body in result.built.bodies)
        starts = np.cumsum([0, *[mesh.n_nodes for mesh in meshes]])
        nodes = np.concatenate([mesh.nodes for mesh in meshes])
        cells = np.concatenate([mesh.elements + start for mesh, start in zip(meshes, starts, strict=False)])
        regions: list[str] = []
        numbers = []
        for name, mesh in zip(self.bodies, meshes, strict=True):
            first = len(regions)
            regions += [f"{name}: {region}" for region in mesh.regions]
            numbers.append(np.where(mesh.element_region < 0, -1, mesh.element_region + first))
        self.regions = tuple(regions)
        self.n_nodes, self.n_cells = len(nodes), len(cells)
        body = np.repeat(np.arange(len(meshes)), [mesh.n_elements for mesh in meshes])
        types = np.full(self.n_cells, NINE_NODE_QUADRILATERAL, np.uint8)
        self._fixed = (
            "<Points>\n"
            + data_array("Points", np.column_stack([nodes, np.zeros(len(nodes))]))
            + "</Points>\n<Cells>\n"
            + data_array("connectivity", cells.ravel().astype(np.int32))
            + data_array("offsets", np.arange(9, 9 * self.n_cells + 9, 9, dtype=np.int32))
            + data_array("types", types)
            + "</Cells>\n<CellData>\n"
            + data_array("body", body.astype(np.int32))
            + data_array("region", np.concatenate(numbers).astype(np.int32))
            + "</CellData>\n"
        )

    def file(self, arrays: Mapping[str, Array]) -> bytes:
        """Return a VTU file's bytes with point arrays (nodes[, components]), stored in single precision."""
        body = "".join(
            data_array(name, values.astype(np.float32), COMPONENTS if name == "stress_MPa" else ())
            for name, values in arrays.items()
        )
        return vtu_file(self.n_nodes, self.n_cells, f"{self._fixed}<PointData>\n{body}</PointData>\n")


def vtu_file(n_nodes: int, n_cells: int, piece: str) -> bytes:
    """Return the bytes of a VTU file of one piece, given as its elements Points, Cells, CellData and PointData."""
    return (
        '<?xml version="1.0"?>\n<VTKFile type="UnstructuredGrid" version="1.0" byte_order="LittleEndian" '
        'header_type="UInt64" compressor="vtkZLibDataCompressor">\n<UnstructuredGrid>\n'
        f'<Piece NumberOfPoints="{n_nodes}" NumberOfCells="{n_cells}">\n'
        f"{piece}</Piece>\n</UnstructuredGrid>\n</VTKFile>\n"
    ).encode()


_TYPES = {"f4": "Float32", "f8": "Float64", "i4": "Int32", "u1": "UInt8"}


def data_array(name: str, values: Array, components: tuple[str, ...] = ()) -> str:
    """Return one DataArray element: one zlib block in base64, its sizes before it."""
    little = np.ascontiguousarray(values, values.dtype.newbyteorder("<"))
    packed = zlib.compress(little.tobytes(), 1)
    sizes = struct.pack("<4Q", 1, little.nbytes, little.nbytes, len(packed))
    text = base64.b64encode(sizes).decode() + base64.b64encode(packed).decode()
    kind = _TYPES[f"{little.dtype.kind}{little.dtype.itemsize}"]
    count = f' NumberOfComponents="{values.shape[1]}"' if values.ndim == 2 else ""
    names = "".join(f' ComponentName{i}="{label}"' for i, label in enumerate(components))
    return f'<DataArray type="{kind}" Name={quoteattr(name)}{count}{names} format="binary">{text}</DataArray>\n'
