"""Fields of a setup on its section revolved to 3-D, as VTU files for a viewer: one file a moment, all bodies together."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from studwell.errors import CannotWrite
from studwell.mesh.revolve import KINDS, Revolved, revolve
from studwell.store.fields import COMPONENTS, data_array, point_arrays, vtu_file
from studwell.store.summary import folder_names
from studwell.store.writing import write_bytes
from studwell.strength.moments import MOMENTS, file_stem, named_moments
from studwell.strength.recovery import SpaceCache, recover
from studwell.study.results import Comparison, SetupResult

Array = np.ndarray

ANGLE = 270.0
"""degrees; a quarter is left out, so that the inside shows."""
SECTORS, FEWEST = 27, 9
"""Sectors of ANGLE: ten degrees each, thirty where the file would grow too large."""
MOST_CELLS = 400_000
"""Cells of a file beyond which sectors are made wider, down to FEWEST of them; about 40 MB."""

POINT_ARRAYS = (
    "displacement_mm",
    "temperature_degC",
    "stress_MPa",
    "stress_tensor_MPa",
    "first_principal_stress_MPa",
    "von_mises_stress_MPa",
)
"""displacement in x, y, z; stress_MPa keeps rr, hoop, zz, rz; stress_tensor_MPa is the same in x, y, z."""
TENSOR = ("XX", "YY", "ZZ", "XY", "YZ", "XZ")
VTK_TYPE = {"hexahedron": 12, "wedge": 13, "pyramid": 14}
"""Source: VTK file formats, linear cell types."""
VTK_ORDER = {"wedge": [0, 2, 1, 3, 5, 4]}
"""Ours -> that of the file: the first face of VTK's wedge looks outward, as the documentation of vtkWedge says, readers take
it, and VTK 9.3 to 9.7 draw its faces; since some version up to 9.7 VTK's volume filters take the other order (both were
tried), so that they give wedges a negative volume."""
ENDING = ".vtu"
BODY, REGION = "body:", "region:"
"""Prefixes of the 0/1 cell arrays that carry the names of bodies and their regions."""


class RevolvedGrid:
    """The unchanging part of one setup's revolved files, encoded once; corner nodes of the section's elements alone.

    angle, sectors : degrees and equal parts of it; None: ANGLE, and SECTORS or fewer so that MOST_CELLS holds
    raises StudwellError : an angle or number of sectors out of range
    """

    def __init__(self, result: SetupResult, angle: float | None = None, sectors: int | None = None) -> None:
        meshes = [body.spec.mesh for body in result.built.bodies]
        starts = np.cumsum([0, *[mesh.n_nodes for mesh in meshes]])
        nodes = np.concatenate([mesh.nodes for mesh in meshes])
        quads = np.concatenate([mesh.elements[:, :4] + start for mesh, start in zip(meshes, starts, strict=False)])
        if sectors is None:
            sectors = sectors_for(len(quads), ANGLE if angle is None else angle)
        self.body: Revolved = revolve(nodes, quads, ANGLE if angle is None else angle, sectors)
        kinds = [kind for kind in KINDS if len(self.body.cells[kind])]
        sizes = np.concatenate([np.full(len(self.body.cells[kind]), KINDS[kind]) for kind in kinds])
        origin = np.concatenate([self.body.origin[kind] for kind in kinds])
        types = np.concatenate([np.full(len(self.body.cells[kind]), VTK_TYPE[kind], np.uint8) for kind in kinds])
        owner = np.repeat(np.arange(len(meshes)), [mesh.n_elements for mesh in meshes])
        flags: dict[str, Array] = {}
        for number, (part, mesh) in enumerate(zip(result.built.bodies, meshes, strict=True)):
            flags[BODY + part.spec.name] = owner == number
            inside = np.nonzero(owner == number)[0]
            for region, members in mesh.regions.items():
                flags[f"{REGION}{part.spec.name}: {region}"] = np.isin(np.arange(len(owner)), inside[members])
        connectivity = np.concatenate(
            [self.body.cells[kind][:, VTK_ORDER.get(kind, list(range(KINDS[kind])))].ravel() for kind in kinds]
        )
        self._fixed = (
            "<Points>\n"
            + data_array("Points", self.body.nodes.astype(np.float32))
            + "</Points>\n<Cells>\n"
            + data_array("connectivity", connectivity.astype(np.int32))
            + data_array("offsets", np.cumsum(sizes).astype(np.int32))
            + data_array("types", types)
            + "</Cells>\n<CellData>\n"
            + data_array("body", owner[origin].astype(np.int32))
            + "".join(data_array(name, flag[origin].astype(np.uint8)) for name, flag in flags.items())
            + "</CellData>\n"
        )

    def file(self, arrays: Mapping[str, Array]) -> bytes:
        """Return a VTU file's bytes with the arrays of `fields.point_arrays`, stored in single precision."""
        body, stress = self.body, arrays["stress_MPa"]
        turned = {
            "displacement_mm": body.vectors(arrays["displacement_mm"][:, :2]),
            "temperature_degC": arrays["temperature_degC"][body.source],
            "stress_MPa": stress[body.source],
            "stress_tensor_MPa": body.tensors(stress),
            "first_principal_stress_MPa": arrays["first_principal_stress_MPa"][body.source],
            "von_mises_stress_MPa": arrays["von_mises_stress_MPa"][body.source],
        }
        names = {"stress_MPa": COMPONENTS, "stress_tensor_MPa": TENSOR}
        points = "".join(
            data_array(name, turned[name].astype(np.float32), names.get(name, ())) for name in POINT_ARRAYS
        )
        return vtu_file(len(body.nodes), body.n_cells, f"{self._fixed}<PointData>\n{points}</PointData>\n")


def sectors_for(quads: int, angle: float = ANGLE) -> int:
    """Return how many sectors so many elements are turned in: of ten degrees, wider beyond MOST_CELLS, at most thirty."""
    share = angle / ANGLE
    most = min(SECTORS * share, max(FEWEST * share, MOST_CELLS / max(quads, 1)))
    return max(1, int(np.ceil(most - 1e-9)))


def write_revolved(
    path: Path, result: SetupResult, index: int, *, angle: float | None = None, sectors: int | None = None
) -> Path:
    """Write one state of a setup revolved; returns the path.

    index : place in the timeline;  angle, sectors : as in `RevolvedGrid`
    raises CannotWrite : also a name that does not end in .vtu;  StudwellError : an angle or number of sectors out of range
    """
    if Path(path).suffix.lower() != ENDING:  # by which a viewer knows how to read it
        raise CannotWrite(f"{path}: no name of a VTU file; allowed: one that ends in {ENDING}")
    bodies = recover(result.built, result.timeline, result.history.temperatures, [index])
    return write_bytes(Path(path), RevolvedGrid(result, angle, sectors).file(point_arrays(bodies, 0)))


def write_revolved_moments(folder: Path, result: SetupResult, cache: SpaceCache | None = None) -> tuple[Path, ...]:
    """Write the named moments of a setup revolved, as MOMENT-revolved.vtu; returns the paths. Raises CannotWrite."""
    moments = named_moments(result.timeline, result.history.temperatures, result.outcomes, result.verdict)
    grid = RevolvedGrid(result)
    bodies = recover(
        result.built, result.timeline, result.history.temperatures, [moments[name] for name in MOMENTS], cache
    )
    return tuple(
        write_bytes(Path(folder) / f"{file_stem(name)}-revolved.vtu", grid.file(point_arrays(bodies, place)))
        for place, name in enumerate(MOMENTS)
    )


def write_all_revolved(directory: Path, comparison: Comparison) -> tuple[Path, ...]:
    """Write the named moments of every solved setup under directory/fields; returns the paths. Raises CannotWrite."""
    cache: SpaceCache = {}
    folders = folder_names([result.name for result in comparison.results])
    return tuple(
        path
        for result in comparison.results
        for path in write_revolved_moments(Path(directory) / "fields" / folders[result.name], result, cache)
    )
