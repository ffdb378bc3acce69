"""The sparsity of a mesh's system matrices, found once, so that assembly is one weighted count."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csc_matrix

from studwell.mesh.mesh import Floats, Ints


class Pattern:
    """Where the entries of element matrices go in a sparse symmetric system.

    elements : (M, 9), node numbers
    n_nodes  : int
    """

    def __init__(self, elements: Ints, n_nodes: int) -> None:
        self.n_nodes = n_nodes
        rows = np.repeat(elements, elements.shape[1], axis=1).ravel()
        columns = np.tile(elements, (1, elements.shape[1])).ravel()
        keys, self._place = np.unique(columns * n_nodes + rows, return_inverse=True)
        self._rows = keys % n_nodes
        column = keys // n_nodes
        self._count = np.bincount(column, minlength=n_nodes)
        self._start = np.concatenate([[0], np.cumsum(self._count)])
        self._column = column

    def scalar(self, matrices: Floats) -> csc_matrix:
        """Return the sum of element matrices (M, 9, 9) as a sparse (N, N) matrix."""
        data = np.bincount(self._place, weights=matrices.ravel(), minlength=len(self._rows))
        shape = (self.n_nodes, self.n_nodes)
        return csc_matrix((data, self._rows.copy(), self._start.copy()), shape=shape)

    def vector(self, matrices: Floats) -> csc_matrix:
        """Return the sum of element matrices (M, 18, 18), unknowns 2 n + component, as a sparse (2 N, 2 N)."""
        n_blocks = len(self._rows)
        data = np.empty(4 * n_blocks)
        indices = np.empty(4 * n_blocks, np.int32 if 8 * n_blocks < 2**31 else np.int64)
        count, start = self._count[self._column], self._start[self._column]
        within = np.arange(n_blocks) - start
        for b in range(2):
            for a in range(2):
                place = 4 * start + b * 2 * count + 2 * within + a
                part = np.ascontiguousarray(matrices[:, a::2, b::2]).ravel()
                data[place] = np.bincount(self._place, weights=part, minlength=n_blocks)
                indices[place] = 2 * self._rows + a
        heads = np.empty(2 * self.n_nodes + 1, indices.dtype)
        heads[0:-1:2] = 4 * self._start[:-1]
        heads[1::2] = 4 * self._start[:-1] + 2 * self._count
        heads[-1] = 4 * self._start[-1]
        shape = (2 * self.n_nodes, 2 * self.n_nodes)
        return csc_matrix((data, indices, heads), shape=shape)
