"""What is left of the clamp after many cycles, with and without re-tightening after the first heat."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from studwell.history.cycles import SOLVED_CYCLES, CycleMark, CycleResult, many_cycles, prepared_cycle
from studwell.history.stages import HistoryResult
from studwell.joint.build import BuiltJoint


@dataclass(frozen=True)
class CycleStudy:
    """Many cycles of one setup.

    as_given : as the case says; untouched: never re-tightened; retightened: once, after the first heat. The last two
    are None where they are the same as the case or nothing settles.
    """

    as_given: CycleResult
    untouched: CycleResult | None
    retightened: CycleResult | None


def repeat(built: BuiltJoint, history: HistoryResult, cycles: int, solved_cycles: int | None = None) -> CycleResult:
    """Carry a history on until so many cycles are done, from its own last cycle.

    solved_cycles : cycles to solve one by one before the first jump; None: the usual number
    raises NotConverged
    """
    times = history.course.times
    length = built.setup.history.cycle_time if not built.setup.history.phases else _phase_length(built)
    done = max(1, round((times[-1] - times[0]) / length))
    first = int(np.argmin(np.abs(times - (times[-1] - length))))
    repeated = prepared_cycle(built.joint, history.course, history.settlement, first)
    repeated = replace(repeated, liquid=history.liquid)
    result = many_cycles(
        built.joint,
        repeated,
        history.run[first + 1 :],
        history.settlement,
        history.crept,
        done=done,
        cycles=max(cycles, done),
        start=float(times[-1] - times[0]),
        solved_cycles=SOLVED_CYCLES if solved_cycles is None else solved_cycles,
        flowing=history.flowing,
    )
    if done == 1:
        return result
    face = next(face.name for face in built.joint.interfaces if face.name.startswith("face "))
    ends = int(np.argmin(np.abs(times - (times[0] + length))))
    clamps = np.array([float(built.joint.axial_load(face, state.forces)) for state in history.run[: ends + 1]])
    once = CycleMark(1, float(clamps[-1]), float(clamps.min()), float(clamps.max()), history.run[ends].stretch, False)
    return replace(result, marks=(once, *result.marks))


def _phase_length(built: BuiltJoint) -> float:
    return float(sum(phase.duration for phase in built.setup.history.phases))
