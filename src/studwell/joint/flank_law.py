"""The law on the flanks of thread teeth: contact with friction where they carry, plain contact behind the teeth."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from studwell.joint.laws import FrictionalContact, State, UnilateralContact

Array = np.ndarray


@dataclass(frozen=True)
class ThreadFlanks:
    """Ports are n normal pairs and n tangential pairs of carrying flanks, then one pair for each back flank.

    contact : law of the carrying flanks;  carrying : n
    State: that of the carrying flanks' law.
    """

    contact: FrictionalContact
    carrying: int
    back: UnilateralContact = field(default_factory=UnilateralContact)
    linear: bool = False

    def start(self, count: int) -> State:
        return self.contact.start(2 * self.carrying)

    def linearise(self, force: Array, opening: Array, state: State) -> tuple[Array, Array, Array]:
        split = 2 * self.carrying
        first = self.contact.linearise(force[:split], opening[:split], state)
        second = self.back.linearise(force[split:], opening[split:], None)
        n = len(force)
        d_force, d_opening = np.zeros((n, n)), np.zeros((n, n))
        d_force[:split, :split], d_opening[:split, :split] = first[1:]
        d_force[split:, split:], d_opening[split:, split:] = second[1:]
        return np.concatenate([first[0], second[0]]), d_force, d_opening

    def commit(self, force: Array, opening: Array, state: State) -> State:
        split = 2 * self.carrying
        return self.contact.commit(force[:split], opening[:split], state)

    def violation(self, force: Array, opening: Array, state: State) -> float:
        residual, _, _ = self.linearise(force, opening, state)
        return float(np.max(np.abs(residual), initial=0.0))

    def turning(self, state: State) -> State:
        """Return the state of a thread that is being turned: its flanks slide round the axis, which uses up their
        friction, so that across the section they slide freely and stick where they have come to when turning ends."""
        stuck_at, closed = state
        return stuck_at, np.zeros_like(closed)
