"""Factorise a symmetric positive definite sparse matrix once and solve blocks of right-hand sides with it."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.sparse import csc_matrix, issparse
from scipy.sparse.linalg import splu

from studwell.errors import StudwellError
from studwell.mesh.mesh import Floats

LARGEST_GROWTH = 1e16


class Factor:
    """A factorised matrix; made by `factorise`. Not picklable: rebuild it where it is needed.

    shape    : (n, n)
    nonzeros : int, entries of both triangular factors
    """

    def __init__(self, factors: Any, shape: tuple[int, int]) -> None:
        self._factors = factors
        self.shape = shape
        self.nonzeros = int(factors.nnz)

    def solve(self, loads: Any, block: int = 16) -> Floats:
        """Return the solutions for one or many right-hand sides.

        loads   : (n,) or (n, k), dense or sparse
        block   : int, right-hand sides solved together
        returns : dense array of the loads' shape
        """
        if not issparse(loads):
            dense = np.asarray(loads, float)
            if dense.ndim == 1:
                return np.asarray(self._factors.solve(dense))
        columns: Any = loads.tocsc() if issparse(loads) else dense
        answer = np.empty(columns.shape, order="F")
        for start in range(0, columns.shape[1], block):
            part = columns[:, start : start + block]
            part = part.toarray(order="F") if issparse(loads) else np.asfortranarray(part)
            answer[:, start : start + block] = self._factors.solve(part)
        return answer


def factorise(matrix: Any) -> Factor:
    """Return the factors of a symmetric positive definite matrix.

    Minimum degree ordering of the symmetric pattern, diagonal pivots.

    matrix               : sparse (n, n)
    raises StudwellError : the matrix is singular, such as that of a body that nothing holds
    """
    columns = csc_matrix(matrix)
    n = columns.shape[0]
    try:
        factors = splu(
            columns,
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            options={"SymmetricMode": True},
        )
    except RuntimeError as error:
        raise _singular() from error
    factor = Factor(factors, (n, n))
    if n:
        probe = 1.0 + 0.5 * np.cos(0.7 * np.arange(n))
        answer = factor.solve(probe)
        largest = np.abs(columns.data).max()
        growth = largest * np.abs(answer).max() / np.abs(probe).max()
        if not np.isfinite(growth) or growth > LARGEST_GROWTH:
            raise _singular()
    return factor


def _singular() -> StudwellError:
    problem = "the system is singular: nothing holds the body, or nothing sets its temperature"
    return StudwellError(problem, slug="bad-mesh")
