"""What a threadlocker in the boss thread holds when cold and what heat leaves of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studwell.history.torques import lock_torque
from studwell.strength.margin import node_temperatures
from studwell.study.finding import Finding
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text, number_text

LOOSENING = 250.0
"""degC to which the trade heats a threadlocked stud to undo it. Common practice, no source."""


@dataclass(frozen=True)
class LockInHeat:
    """Torque that breaks the bond, N mm, at assembly and at the hottest instant of its thread; share: the latter over the
    former; covered: whether the grade's data reach to that temperature, degC."""

    grade: str
    fill: float
    assembled: float
    hottest: float
    temperature: float
    when: str
    covered: bool

    @property
    def share(self) -> float | None:
        return self.hottest / self.assembled if self.assembled > 0.0 else None


def lock_in_heat(result: SetupResult) -> LockInHeat | str:
    """Return what the bond holds, cold and hot, or why there is none to speak of.

    The thread counts as hot as the hotter of boss and stud tip. Source: parts.threadlocker and the setup's history.
    """
    setup = result.setup
    lock = setup.seating.threadlocker
    if lock is None:
        return "no threadlocker in this setup"
    if not lock.cured:
        return "the threadlocker is not cured: a liquid bonds nothing"
    nodes = [
        node_temperatures(result.built, result.timeline, result.history.temperatures, n) for n in ("boss", "stud_tip")
    ]
    hot = np.max(nodes, axis=0)
    at = int(np.argmax(hot))
    temperature = float(hot[at])
    return LockInHeat(
        lock.grade.name,
        lock.fill,
        lock_torque(setup, setup.history.assembly_temperature),
        lock_torque(setup, temperature),
        temperature,
        result.timeline.when(at),
        lock.grade.shear_strength.covers(max(temperature, lock.grade.shear_strength.temperatures[0])),
    )


def lock_findings(comparison: Comparison) -> list[Finding]:
    """Return what is to be said of threadlocker: its hold cold and hot, or that it is still a liquid."""
    units = comparison.case.units
    found = []
    for item in comparison.results:
        lock, heat = item.setup.seating.threadlocker, lock_in_heat(item)
        if lock is None:
            continue
        if isinstance(heat, str):
            text = f"{item.name}: {heat} and rubs as the friction given says; in a blind hole it is a fluid under the stud."
            found.append(Finding("caution", text))
            continue
        left = "" if heat.share is None else f", {number_text(100.0 * heat.share, 2)} % of that"
        beyond = "" if heat.covered else " (hotter than the data of the grade reach: its last value is held)"
        found.append(
            Finding(
                "caution",
                f"{item.name}: cured {heat.grade}-strength threadlocker on {number_text(100.0 * heat.fill, 2)} % of the thread "
                f"holds {as_text(heat.assembled, 'torque', units, 3)} against turning when cold and "
                f"{as_text(heat.hottest, 'torque', units, 3)}{left} at {as_text(heat.temperature, 'temperature', units, 3)} "
                f"({heat.when}){beyond}. To undo it the trade heats it to about "
                f"{as_text(LOOSENING, 'temperature', units, 3)} (common practice, no source).",
            )
        )
    return found
