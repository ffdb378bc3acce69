"""What a long study asks for: so many samples, in blocks that anybody may evaluate in any order."""

from __future__ import annotations

from typing import Protocol, runtime_checkable

import numpy as np


@runtime_checkable
class Plan(Protocol):
    """A study whose rows are numbers; picklable, and the same wherever and whenever a block is evaluated.

    hash    : text that is another one as soon as inputs or options that change a number differ (sha256, hex)
    count   : samples in all, 1 or more
    block   : samples a block, 1 or more; the last block may be shorter
    columns : name of each number of a row
    """

    @property
    def hash(self) -> str:
        """Hash of everything that the numbers depend on."""
        ...

    @property
    def count(self) -> int:
        """Samples in all."""
        ...

    @property
    def block(self) -> int:
        """Samples a block."""
        ...

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of a row's numbers."""
        ...

    def evaluate(self, block: int) -> np.ndarray:
        """Return the rows (samples of this block, columns) of a block as floats; depends on the block's number alone."""
        ...


def block_count(count: int, block: int) -> int:
    """Return how many blocks hold `count` samples at `block` samples each."""
    return -(-count // block)


def block_samples(count: int, block: int, index: int) -> range:
    """Return the numbers of the samples that block `index` holds.

    raises IndexError : there is no such block
    """
    if not 0 <= index < block_count(count, block):
        raise IndexError(f"block {index} of {block_count(count, block)}")
    return range(index * block, min(count, (index + 1) * block))
