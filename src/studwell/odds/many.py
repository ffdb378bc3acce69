"""What many samples of one joint are given and what comes of them: heat, screws that are turned, states."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from studwell.joint.laws import CurveLaw, HistoryCurveLaw, LinearCompliance, UnilateralContact
from studwell.joint.reduced import Interface, ReducedJoint
from studwell.joint.state import Heat, mode_amplitudes
from studwell.odds.springs import ManySprings

Array = np.ndarray
Curve = CurveLaw | HistoryCurveLaw
Memory = np.ndarray | tuple[np.ndarray, np.ndarray] | None


@dataclass(frozen=True)
class ManyHeat:
    """Thermal state of S samples: gaps (n, S) mm that heat alone makes, inverse modulus ratios (B, S), the tension
    (S,) N that thermal strain alone makes in the stud's section, the stud's yield strength (S,) MPa, and the amplitudes
    (k, S) of the boss's thermal modes.

    An axis of length 1 stands for samples that are all alike.
    """

    gap: Array = field(repr=False)
    softness: Array = field(repr=False)
    tension: Array = field(repr=False)
    stud_yield: Array = field(repr=False)
    boss_strain: Array | None = field(default=None, repr=False)


@dataclass(frozen=True)
class Turned:
    """A screw turned in every sample until a sum of port forces reaches its target.

    basis (g, n): groups of ports; amounts (g, S): torque per newton of each group (or shares, for a force);
    target (S,): N mm (or N)
    """

    travel: str
    basis: Array = field(repr=False)
    amounts: Array = field(repr=False)
    target: Array = field(repr=False)


@dataclass(frozen=True)
class ManyStates:
    """States of S samples: forces, openings (n, S) N and mm; shifts (B, S); travels of the screws (S,) mm; stretch (S,) mm;
    memory of each interface's law (None, or arrays (count, S)); shear (S,) MPa; solved (S,)."""

    forces: Array = field(repr=False)
    openings: Array = field(repr=False)
    shifts: Array = field(repr=False)
    travels: Mapping[str, Array] = field(repr=False)
    stretch: Array = field(repr=False)
    memory: tuple[Memory, ...] = field(repr=False)
    shear: Array = field(repr=False)
    solved: Array = field(repr=False)


def not_in_batches(joint: ReducedJoint) -> str:
    """Return why a joint cannot be solved side by side, "" if it can."""
    for face in joint.interfaces:
        if not isinstance(face.law, LinearCompliance | UnilateralContact | CurveLaw | HistoryCurveLaw):
            return f"{face.name} has a law that is solved sample by sample ({type(face.law).__name__})"
    return "" if joint.shank is not None else "the joint has no shank that may stretch"


def loose(joint: ReducedJoint, samples: int) -> ManyStates:
    """Return S loose joints: no force anywhere."""
    memory: list[Memory] = []
    for face in joint.interfaces:
        nothing = np.zeros((face.count, samples))
        if isinstance(face.law, CurveLaw):
            memory.append((nothing, nothing.copy()))
        else:
            memory.append(nothing if isinstance(face.law, HistoryCurveLaw) else None)
    n, bodies = joint.n_ports, len(joint.bodies)
    return ManyStates(
        np.zeros((n, samples)), np.zeros((n, samples)), np.zeros((bodies, samples)),
        {name: np.zeros(samples) for name in joint.travels}, np.zeros(samples), tuple(memory), np.zeros(samples),
        np.ones(samples, dtype=bool),
    )  # fmt: skip


def heat_of_many(joint: ReducedJoint, heat: Heat) -> ManyHeat:
    """Return one thermal state as that of samples which are all alike."""
    gap = np.zeros(joint.n_ports) if heat.gap_change is None else heat.gap_change.copy()
    for index in range(len(joint.bodies)):
        gap += joint.strain_response[index] @ mode_amplitudes(joint, index, heat, 0.0)
    assert joint.shank is not None
    stud = joint.shank[0]
    rows = joint.bodies[stud].tension
    assert rows is not None
    tension = heat.modulus_ratio[stud] * float(rows[1] @ mode_amplitudes(joint, stud, heat, 0.0))
    return ManyHeat(
        gap[:, None], (1.0 / heat.modulus_ratio)[:, None], np.array([tension]), np.array([heat.stud_yield]),
        heat.amplitudes[joint.body_index("boss")][:, None],
    )  # fmt: skip


def law_of(face: Interface) -> Curve:
    """Return the curve of an interface. Raises TypeError: it has another law."""
    if not isinstance(face.law, CurveLaw | HistoryCurveLaw):
        raise TypeError(f"{face.name} has no curve")
    return face.law


def curve_at(law: Curve | ManySprings, closure: Array, memory: Memory) -> tuple[Array, Array]:
    """Return force and slope (count, S) of a curve at closures (count, S) mm; laws of one part take samples first."""
    if isinstance(law, ManySprings):
        assert isinstance(memory, tuple)
        return law.force(closure, memory)
    if isinstance(law, HistoryCurveLaw):
        assert isinstance(memory, np.ndarray)
        value, slope = law.curve(closure.T, memory.T)
    else:
        assert isinstance(memory, tuple)
        value, slope = law.force(closure.T, (memory[0].T, memory[1].T))
    return value.T, slope.T


@dataclass(frozen=True)
class Given:
    """What the samples of one moment differ by; arrays end in the samples' axis. outside: times the moment's own load.

    laws : of the interfaces with a curve, one for all samples, or one each
    """

    constant: Array
    softness: Array
    tension: Array
    stud_yield: Array
    shear: Array
    stretch: Array
    outside: Array
    memory: tuple[Memory, ...]
    laws: tuple[Curve | ManySprings, ...]
    amounts: Array
    target: Array

    def among(self, chosen: Array) -> Given:
        """Return what some of the samples differ by."""
        kept: list[Memory] = []
        for each in self.memory:
            if isinstance(each, tuple):
                kept.append((each[0][:, chosen], each[1][:, chosen]))
            else:
                kept.append(None if each is None else each[:, chosen])
        return Given(
            self.constant[:, chosen], self.softness[:, chosen], self.tension[chosen], self.stud_yield[chosen],
            self.shear[chosen], self.stretch[chosen], self.outside[chosen], tuple(kept),
            tuple(each.among(chosen) if isinstance(each, ManySprings) else each for each in self.laws),
            self.amounts[:, chosen], self.target[chosen],
        )  # fmt: skip


def in_shares(turned: Turned | None, count: int) -> tuple[Array, Array]:
    """Return amounts (g, S) and target (S,) of a screw that is turned, over the sum of its amounts; none are (0, S)."""
    if turned is None:
        return np.zeros((0, count)), np.zeros(count)
    return turned.amounts / turned.amounts.sum(axis=0), turned.target / turned.amounts.sum(axis=0)


def wide(values: Array, count: int) -> Array:
    """Return the same values with an axis of all samples at the end."""
    values = np.asarray(values)
    return np.broadcast_to(values, (*values.shape[:-1], count))
