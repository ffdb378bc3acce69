"""Heat that a grey surface exchanges with large surroundings by radiation, and its slope."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csc_matrix

from studwell.fem.edges import EdgeSet
from studwell.mesh.mesh import Floats

STEFAN_BOLTZMANN = 5.670374419e-11
"""N/(mm s K^4): 5.670374419e-8 W/(m^2 K^4), exact by the definition of the units. Source: CODATA 2018."""

ABSOLUTE_ZERO = -273.15
"""degC. Source: the definition of the degree Celsius."""


def radiation(edges: EdgeSet, emissivity: float, surroundings: float, temperature: Floats) -> tuple[Floats, csc_matrix]:
    """Return the nodal heat that radiation brings a boundary, and minus its slope.

    q = emissivity sigma (Ta^4 - T^4), absolute temperatures.

    emissivity        : 0..1;  surroundings : degC
    temperature       : (N,), degC
    returns           : (N,), N mm/s = mW, and sparse (N, N), mW/K
    raises ValueError : an emissivity outside 0..1, or surroundings below absolute zero

    Source: Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, grey surface in large surroundings.
    """
    if not 0 <= emissivity <= 1 or not (np.isfinite(surroundings) and surroundings >= ABSOLUTE_ZERO):
        raise ValueError(
            f"emissivity {emissivity}, surroundings {surroundings} degC; allowed: 0..1 and {ABSOLUTE_ZERO} degC or more"
        )
    absolute = (temperature[edges.nodes] @ edges.shapes.T) - ABSOLUTE_ZERO
    factor = emissivity * STEFAN_BOLTZMANN * edges.shares
    flux = factor * ((surroundings - ABSOLUTE_ZERO) ** 4 - absolute**4)
    n = len(temperature)
    heat = np.bincount(edges.nodes.ravel(), (flux @ edges.shapes).ravel(), minlength=n)
    local = np.einsum("ek,kn,km->enm", 4 * factor * absolute**3, edges.shapes, edges.shapes)
    rows = np.broadcast_to(edges.nodes[:, :, None], local.shape).ravel()
    columns = np.broadcast_to(edges.nodes[:, None, :], local.shape).ravel()
    return np.asarray(heat, float), csc_matrix((local.ravel(), (rows, columns)), shape=(n, n))
