"""All states of a history in order, with their phase and time, and stresses over them."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from studwell.fem.elasticity import first_principal as first_of
from studwell.history.stages import HistoryResult
from studwell.joint.forces import Forces
from studwell.joint.reduced import ReducedJoint
from studwell.joint.state import JointState, mode_amplitudes
from studwell.units import time_text

Array = np.ndarray


@dataclass(frozen=True)
class Timeline:
    """Every state from the seated stud to the end of the history.

    states; phases: 'seated', 'tightening', 'run', 'under cylinder pressure'; times (n,) s (0 before the run);
    forces: each field (n,); run: indices of the run's states; labels: index -> label of a point of the history
    """

    states: tuple[JointState, ...] = field(repr=False)
    phases: tuple[str, ...] = field(repr=False)
    times: Array = field(repr=False)
    forces: Forces = field(repr=False)
    run: Array = field(repr=False)
    assembled: int
    labels: tuple[tuple[int, str], ...]
    _loads: dict[int, tuple[Array, Array, Array]] = field(default_factory=dict, init=False, repr=False, compare=False)

    def loads(self, joint: ReducedJoint, body: int) -> tuple[Array, Array, Array]:
        """Return what a body carries in every state, gathered once: forces (states, columns) N on its columns, amplitudes
        (states, modes) of its strain modes, its modulus ratio (states,).

        joint : that of the timeline's states;  body: its place in it
        """
        if body not in self._loads:
            ports = np.stack([state.forces for state in self.states])
            outside = np.array([state.outside_load for state in self.states])
            amplitudes = np.stack([mode_amplitudes(joint, body, s.heat, s.stretch) for s in self.states])
            ratios = np.array([s.heat.modulus_ratio[body] for s in self.states])
            self._loads[body] = joint.column_forces(body, ports, outside), amplitudes, ratios
        return self._loads[body]

    def when(self, index: int) -> str:
        """Plain words for an instant: phase, nearest label, time."""
        phase = self.phases[index]
        if phase not in ("run", "under cylinder pressure"):
            return phase
        exact = [label for at, label in self.labels if at == index]
        text = time_text(float(self.times[index]))
        if exact:
            return f"{exact[0]} ({text})"
        before = [label for at, label in self.labels if at < index]
        after = [label for at, label in self.labels if at > index]
        if before and after and phase == "run":
            return f"between {before[-1]} and {after[0]} ({text})"
        return f"{phase} ({text})"


def at_instant(when: str) -> str:
    """Return the words of an instant as they follow a verb: "at cold start (9 min)", but "during full load (12 min)".

    when : as `Timeline.when`, or a phase of solved heat, names it
    """
    first = when.split(" ", 1)[0]
    if first in ("during", "between", "before", "after"):
        return when
    if first in ("end", "start"):
        return f"at the {when}"
    if when.partition(" (")[0] in ("assembled", "seated", "tightened"):
        return f"when {when}"
    if when == "tightening":
        return f"in {when}"
    return f"at {when}"


def timeline_of(history: HistoryResult) -> Timeline:
    """Put all states of a history in order."""
    parts = [
        ("seated", (history.seated,), history.seated_forces, np.zeros(1)),
        ("tightening", history.tightening, history.tightening_forces, np.zeros(len(history.tightening))),
        ("run", history.run, history.run_forces, history.times),
    ]
    if history.pressurised and history.pressurised_forces is not None:
        parts.append(("under cylinder pressure", history.pressurised, history.pressurised_forces, history.times))
    states = tuple(state for _, group, _, _ in parts for state in group)
    phases = tuple(name for name, group, _, _ in parts for _ in group)
    forces = Forces(
        *[
            np.concatenate([np.atleast_1d(getattr(f, name)) for _, _, f, _ in parts])
            for name in Forces.__dataclass_fields__
        ]
    )
    first = 1 + len(history.tightening)
    return Timeline(
        states,
        phases,
        np.concatenate([t for _, _, _, t in parts]),
        forces,
        first + np.arange(len(history.run)),
        first,
        tuple((first + at, label) for at, label in history.labels),
    )


def stresses(joint: ReducedJoint, timeline: Timeline, body: str, place: str) -> Array:
    """Return the stress (states, places, 4) MPa at a body's named places in every state.

    What inelastic strain leaves is in it: see `joint.flowing.AddedStress`.
    """
    index = joint.body_index(body)
    result = joint.bodies[index].stress[place].stress(*timeline.loads(joint, index))
    for i, state in enumerate(timeline.states):
        if state.flow is not None and body in state.flow.added_stress:
            result[i] += state.flow.added_stress[body][place]
    return result


def first_principal(stress: Array) -> Array:
    """Return the first principal stress (...) of stresses (..., 4), MPa."""
    return first_of(stress)
