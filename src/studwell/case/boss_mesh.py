"""A boss mesh of the user's own: its file beside the case file, read once, its boundaries under our names."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from studwell.errors import StudwellError

if TYPE_CHECKING:
    from studwell.mesh.mesh import Mesh

Array = np.ndarray

APART = {"apart": True}
"""Marks a field that is left out of the fingerprint: another field stands for it, or it is a file's name."""

NEEDED = ("seat", "thread", "mouth", "outer", "underside")
"""Boundaries that the boss's mesh must have."""

NAMED = (*NEEDED, "fillet", "pocket")
"""Boundaries that [boss.mesh_names] may map to names of the user's own."""

MADE = ("mouth contact", "bare mouth face")
"""Boundaries that are cut out of "mouth" anew; a file written by `studwell mesh` has them already."""


@dataclass(frozen=True)
class BossMesh:
    """The boss as the user meshed it, in place of the mesh that the dimensions give.

    sha256 : of the file's bytes; names: (our name, theirs) of the boundaries
    file   : as the case names it; mesh: with our names of boundaries, mm
    """

    sha256: str
    names: tuple[tuple[str, str], ...]
    file: str = field(compare=False, metadata=APART)
    mesh: Mesh = field(repr=False, compare=False, metadata=APART)

    @property
    def thread_lines(self) -> Array:
        """Heights of the corners along boundary "thread" (n + 1,), rising, mm."""
        return self._lines("thread", 1)

    @property
    def seat_lines(self) -> Array:
        """Radii of the corners along boundary "seat" (n + 1,), rising, mm."""
        return self._lines("seat", 0)

    @property
    def mouth_lines(self) -> Array:
        """Radii of the corners along boundary "mouth" (n + 1,), rising, mm."""
        return self._lines("mouth", 0)

    def _lines(self, name: str, component: int) -> Array:
        corners = np.unique(self.mesh.facet_nodes[self.mesh.facets_of(name), :2])
        return np.sort(self.mesh.nodes[corners, component])


class MeshFolder:
    """The folder of a case file; mesh files in it are read once, whatever number of setups names them."""

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = Path() if folder is None else folder
        self._found: dict[str, tuple[str, Mesh]] = {}

    def read(self, file: str) -> tuple[str, Mesh]:
        """Return the SHA-256 of a mesh file's bytes and its mesh.

        file : path relative to the folder, or absolute
        raises StudwellError : no such file, not readable as a mesh; BadMesh: not a mesh that can be solved on
        """
        from studwell.mesh.files import read_mesh

        if file not in self._found:
            path = self.folder / file
            if not path.is_file():
                what = "a directory, not a file" if path.is_dir() else "no such file beside the case file"
                raise StudwellError(what, slug="file-not-readable")
            try:
                content = path.read_bytes()
            except OSError as error:
                raise StudwellError(f"cannot be read ({error.strerror})", slug="file-not-readable") from None
            self._found[file] = hashlib.sha256(content).hexdigest(), read_mesh(path)
        return self._found[file]


def with_our_names(mesh: Mesh, names: Mapping[str, str]) -> Mesh:
    """Return a mesh whose boundaries carry our names; those that are made anew are left out.

    names : our name -> theirs, of boundaries that the mesh has
    """
    from studwell.mesh.mesh import Mesh

    taken = {*names.values(), *names, *MADE}
    kept = {name: facets for name, facets in mesh.boundaries.items() if name not in taken}
    ours = {name: mesh.boundaries[theirs] for name, theirs in names.items()}
    return Mesh(mesh.quads, mesh.regions, {**ours, **kept})
