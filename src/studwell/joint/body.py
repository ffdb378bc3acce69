"""What one body answers at its ports: compliance, thermal columns and the maps back to stress and displacement."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

Array = np.ndarray


@dataclass(frozen=True)
class StressMap:
    """Linear map from a body's column forces and strain modes to stress at some places.

    force  : (places, 4, columns) MPa/N; order rr, hoop, zz, rz
    strain : (places, 4, modes) MPa per unit amplitude at the reference modulus
    where  : (places, 2) mm, a point that stands for each place
    """

    force: Array = field(repr=False)
    strain: Array = field(repr=False)
    where: Array = field(repr=False)

    def stress(self, column_forces: Array, amplitudes: Array, modulus_ratio: Array | float) -> Array:
        """Return stress (..., places, 4) MPa.

        column_forces (..., columns) N, amplitudes (..., modes) -, modulus_ratio (...) = E(T) / E reference.
        """
        ratio = np.asarray(modulus_ratio)[..., None, None]
        by_force = np.tensordot(column_forces, self.force, axes=(-1, 2))
        return by_force + ratio * np.tensordot(amplitudes, self.strain, axes=(-1, 2))


@dataclass(frozen=True)
class BodyResponse:
    """One body condensed to the columns of its faces, exactly; numbers only, picklable.

    columns        : name of a column group ('thread/axial') -> slice into the m columns
    compliance     : (m, m) mm/N at the reference modulus; a rigid axial shift is held by a ground spring
    strain_response: (m, k) mm per unit amplitude of each strain mode; does not depend on the modulus
    axial_resultant: (m,) axial force on the body of each unit column
    modes          : names of the k strain modes (thermal profile, plastic stretch)
    stress         : named stress maps
    tension        : (m,), (k,) the axial force through the section called tension, N/N and N per unit mode
    floating       : True if nothing but contact holds the body axially
    displacement   : (2 nodes, m + k) mm, whole field of each column and mode at the reference modulus
    areas, midpoints : per column group, the edges' areas (mm^2) and middles (r, z in mm)
    energy_error   : largest asymmetry of the compliance relative to its largest entry
    """

    name: str
    columns: Mapping[str, slice]
    compliance: Array = field(repr=False)
    strain_response: Array = field(repr=False)
    axial_resultant: Array = field(repr=False)
    modes: tuple[str, ...]
    stress: Mapping[str, StressMap] = field(repr=False)
    tension: tuple[Array, Array] | None = field(repr=False)
    floating: bool
    displacement: Array | None = field(repr=False)
    unknowns: int
    energy_error: float
    areas: Mapping[str, Array] = field(repr=False)
    midpoints: Mapping[str, Array] = field(repr=False)

    @property
    def n_columns(self) -> int:
        return self.compliance.shape[0]

    @property
    def n_modes(self) -> int:
        return self.strain_response.shape[1]
