"""A fast study whose right answer is known, for the tests of runs; also a program that carries it out."""

import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np


@dataclass(frozen=True)
class Toy:
    """Rows (sample number, its square, a normal number seeded by it, nan for every seventh)."""

    count: int = 96
    block: int = 8
    pause: float = 0.0
    hash: str = "toy-1"
    columns: tuple[str, ...] = ("sample", "square", "normal", "seventh")

    def evaluate(self, block: int) -> np.ndarray:
        time.sleep(self.pause)
        numbers = np.arange(block * self.block, min(self.count, (block + 1) * self.block), dtype=float)
        normal = [np.random.default_rng(int(n)).normal() for n in numbers]
        return np.stack([numbers, numbers**2, normal, np.where(numbers % 7 == 0, np.nan, 1.0)], axis=1)


@dataclass(frozen=True)
class Stubborn(Toy):
    """Its third block fails, or ends the process that evaluates it."""

    deadly: bool = False

    def evaluate(self, block: int) -> np.ndarray:
        import os
        import signal

        from studwell.errors import BadCase

        if block == 2 and self.deadly:
            os.kill(os.getpid(), signal.SIGKILL)
        if block == 2:
            raise BadCase("toy.toml", "[stud] length", 3, "more")
        return super().evaluate(block)


if __name__ == "__main__":
    from studwell.runs import execute

    path, workers, pause = Path(sys.argv[1]), int(sys.argv[2]), float(sys.argv[3])
    run = execute(
        Toy(pause=pause), path, workers=workers, resume=True, progress=lambda pace: print(pace.done, flush=True)
    )
    print("stopped" if run.stopped else "done", flush=True)
