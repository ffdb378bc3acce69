"""What would hold a stud that follows the nut: the smallest lock torque, and the threadlockers in stock that give it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from studwell.case.records import Setup
from studwell.case.workshop_records import Threadlocker
from studwell.history.torques import lock_torque
from studwell.odds.limits import COLUMNS
from studwell.odds.model import SetupModel
from studwell.parts.threadlocker import stock_threadlocker, stock_threadlocker_names
from studwell.units import as_text, number_text

Array = np.ndarray

LOCK = "seating.lock_torque"
"""Key of the lever: the torque that breaks the lock of the boss thread."""

STEP = 100.0
"""N mm to which a lock torque is rounded up. Our own choice: nobody states one more finely."""

WHY = (
    "hold is a ratio of what the nut sends down the stud to what holds it, both by friction and the same load: torque and "
    "back-off change it little. A lock in the boss thread (seating.lock_torque, or a cured threadlocker) does"
)


def own_lock(setup: Setup) -> float:
    """Return the torque that breaks a setup's own lock, N mm, at its assembly temperature."""
    return lock_torque(setup, setup.history.assembly_temperature)


def lock_needed(model: SetupModel, inputs: Array, table: Array, wanted: float) -> float | None:
    """Return the lock torque, N mm, with which at most a share `wanted` of the samples has a stud that follows the nut.

    table : rows of the inputs (n, COLUMNS) as the setup stands;  None: hold is known in no sample
    """
    place, own = COLUMNS.index("hold"), own_lock(model.setup)
    more = 1000.0
    if LOCK in model.names:
        at = inputs.copy()
        at[:, model.names.index(LOCK)] += more
        raised, _ = model.rows(at)
    else:
        raised, _ = model.rows(inputs, {LOCK: np.full(len(inputs), own + more)})
    before, after = table[:, place], raised[:, place]
    known = ~np.isnan(before) & ~np.isnan(after) & (after > 0.0)
    if not known.any():
        return None
    # ratio = down / holding, and holding grows by the lock: down = more / (1/after - 1/before)
    down = more / (1.0 / after[known] - 1.0 / before[known])
    lacking = np.sort(down * (1.0 - 1.0 / before[known]))[::-1]
    allowed = int(np.floor(wanted * len(lacking)))
    least = float(lacking[min(allowed, len(lacking) - 1)])
    return float(STEP * np.ceil((own + max(least, 0.0) + 1.0) / STEP))


def lock_words(setup: Setup, torque: float) -> str:
    """Return which cured threadlockers in stock give a lock torque, N mm, and with which share of the thread filled."""
    enough, most = [], 0.0
    for name in stock_threadlocker_names():
        filled = replace(setup.seating, threadlocker=Threadlocker(stock_threadlocker(name), True, 1.0))
        full = own_lock(replace(setup, seating=filled))
        most = max(most, full)
        if full >= torque:
            enough.append(f'"{name}" ({number_text(np.ceil(100.0 * torque / full), 3)} % filled)')
    if enough:
        return f"of the stock's threadlockers, cured, these give it: {', '.join(enough)}"
    return f"no threadlocker of the stock gives it: the strongest, all filled, {as_text(most, 'torque', digits=3)}"
