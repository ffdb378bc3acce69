"""What the engaged threads carry and, where teeth are meshed, how their roots are stressed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from studwell.joint.build import BuiltJoint
from studwell.joint.forces import LEAST_FORCE
from studwell.section.teeth import ROOT_DEPTH
from studwell.strength.outcomes import Outcome, Outcomes
from studwell.strength.strip import pitch_loads
from studwell.strength.timeline import Timeline, first_principal, stresses

Array = np.ndarray

THREAD_ROOT_REASON = (
    "the thread is a smooth layer in this model: the stress at a thread root is not known to it, only the load"
)
MODEL_REASONS = {
    "layer": "the default: every engaged pitch counts, whole or not, any profile and size; it gives loads, no root stress",
    "grooves": "teeth as they are, rings of zero helix: root stress and shares of whole threads; what is left of the engaged "
    "length beyond whole threads carries nothing, and the run-in of the first and last turn is not a ring",
    "bonded": "no give between the threads: a bound on how steeply load can fall along them, not a thread",
}
"""Why a model of the threads is taken, and what it leaves out."""

NO_SHARES = "what each pitch carries is not known where the thread is one with its partner"


def thread_outcomes(built: BuiltJoint, timeline: Timeline) -> Outcomes:
    """Return the share of the load that the first pitch carries when assembled, in boss and nut, and the root stress.

    thread_stress_max : first principal of the stress averaged under each root of the stud's and the boss's teeth,
                        ROOT_DEPTH pitches deep, the worst root of the worst state; None where threads are smooth
    """
    result: Outcomes = {}
    for side, thread in (("boss", built.setup.stud.thread), ("nut", built.setup.stud.nut_thread)):
        pitches = pitch_loads(f"{side} thread", built, timeline, thread)
        name = f"{side}_first_thread_share"
        if pitches is None:
            result[name] = Outcome(None, "", reason=NO_SHARES)
            continue
        own = pitches.loads[timeline.assembled]
        if abs(float(own.sum())) < LEAST_FORCE:
            result[name] = Outcome(None, "", reason=f"the {side} thread carries nothing when assembled")
            continue
        when = timeline.when(timeline.assembled), float(timeline.times[timeline.assembled]), timeline.assembled
        result[name] = Outcome(float(own[0] / own.sum()), "", *when)
    result["thread_stress_max"] = _root_stress(built, timeline)
    return result


def _root_stress(built: BuiltJoint, timeline: Timeline) -> Outcome:
    worst: Outcome | None = None
    for body, whose in (("stud", "stud"), ("boss", "boss")):
        if "thread roots" not in built.joint.bodies[built.joint.body_index(body)].stress:
            continue
        stress = np.asarray(first_principal(stresses(built.joint, timeline, body, "thread roots")))
        state, root = np.unravel_index(int(np.argmax(stress)), stress.shape)
        depth = ROOT_DEPTH * built.setup.stud.thread.pitch
        value = float(stress[state, root])
        if worst is None or worst.value is None or value > worst.value:
            when = timeline.when(int(state)), float(timeline.times[state]), int(state)
            reason = (
                f"elastic, {whose}'s root {root + 1} from the mouth, mean over the metal to {depth:.2g} mm under it"
            )
            worst = replace(Outcome(value, "MPa", *when), reason=reason)
    return worst or Outcome(None, "MPa", reason=THREAD_ROOT_REASON)
