"""A joint at one instant with its linear laws eliminated: what every state at that instant shares."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from studwell.joint.laws import UnilateralContact
from studwell.joint.reduced import ReducedJoint
from studwell.joint.state import Heat

Array = np.ndarray

LOOSE_STIFFNESS = 1e-8
"""N/mm that keeps a body in place which nothing touches; at 1 mm it carries 1e-8 N. A numerical device, no part."""


@dataclass(frozen=True)
class StepSystem:
    """A joint at one thermal state with its linear laws eliminated: what every state at that instant shares.

    Unknowns: forces of the q nonlinear ports, shifts of the floating bodies, travels of all screws, plastic stretch.
    opening of the nonlinear ports = rows @ unknowns + opening_at_rest
    forces of the linear ports     = back @ unknowns + force_at_rest
    linear_block (l, l): compliance of the linear ports and their laws; across (l, q), rigid_linear and tension_linear carry
    what a gap there adds to force_at_rest on to the openings, the balances and the tension
    net force on floating bodies   = balance @ unknowns + balance_at_rest
    """

    heat: Heat
    outside_load: float
    absent: frozenset[str]
    compliance: Array = field(repr=False)
    extra: Array = field(repr=False)
    constant: Array = field(repr=False)
    nonlinear: Array = field(repr=False)
    linear: Array = field(repr=False)
    floating: Array = field(repr=False)
    travel_names: tuple[str, ...]
    rows: Array = field(repr=False)
    opening_at_rest: Array = field(repr=False)
    back: Array = field(repr=False)
    force_at_rest: Array = field(repr=False)
    balance: Array = field(repr=False)
    balance_at_rest: Array = field(repr=False)
    tension: Array | None = field(repr=False)
    tension_at_rest: float
    contact: Array = field(repr=False)
    contact_weight: Array = field(repr=False)
    others: tuple[tuple[int, slice], ...]
    parts: tuple[tuple[int, slice], ...]
    linear_block: Array = field(repr=False)
    across: Array = field(repr=False)
    rigid_linear: Array = field(repr=False)
    tension_linear: Array = field(repr=False)

    @cached_property
    def gap_to_linear(self) -> Array:
        """What a gap added to the linear ports adds to force_at_rest, (l, l) N/mm; asked where something creeps or flows."""
        return -np.linalg.inv(self.linear_block)

    @cached_property
    def at_rest(self) -> Free:
        """The system with every screw held where it is: what most steps solve."""
        return free_part(self, None)

    def sums(self, vectors: Array) -> tuple[Array, Array]:
        """Return sums of all port forces, vectors (k, n), as (k, unknowns) and (k,) at rest."""
        nq = len(self.nonlinear)
        result = vectors[:, self.linear] @ self.back
        result[:, :nq] += vectors[:, self.nonlinear]
        return result, vectors[:, self.linear] @ self.force_at_rest


@dataclass(frozen=True)
class Free:
    """The part of a system that moves, with one screw turned or none: arrays that every iteration uses again."""

    free: Array
    held: Array
    rows: Array
    held_rows: Array
    balance: Array
    held_balance: Array
    tension: Array | None
    held_tension: Array | None
    weighted: Array
    own: Array
    template: Array


def free_part(system: StepSystem, turned: str | None) -> Free:
    """Return the part of a system that moves when this screw is turned; None: every screw is held."""
    tension = None if system.tension is None else system.tension[None]
    sizes = len(system.nonlinear), len(system.floating)
    weight = system.contact_weight
    return _free_parts(
        system.rows[None], system.balance[None], tension, sizes, system.travel_names, system.contact, weight, turned
    )[0]


def _free_parts(
    rows: Array,
    balance: Array,
    tension: Array | None,
    sizes: tuple[int, int],
    names: tuple[str, ...],
    contact: Array,
    weight: Array,
    turned: str | None,
) -> list[Free]:
    """The moving part of several instants; rows, balance, tension: (t, ...), sizes: of nonlinear ports, floating bodies."""
    nq, n_float = sizes
    moving = np.ones(rows.shape[2], dtype=bool)
    for i, name in enumerate(names):
        moving[nq + n_float + i] = name == turned
    free, held = np.flatnonzero(moving), np.flatnonzero(~moving)
    free_rows, free_balance = rows[:, :, free], balance[:, :, free]
    held_rows, held_balance = rows[:, :, held], balance[:, :, held]
    template = np.zeros((len(rows), len(free), len(free)))
    template[:, nq : nq + n_float] = free_balance
    weighted = weight[:, None] * free_rows[:, contact]
    own = np.eye(len(free))[contact]
    return [
        Free(
            free=free,
            held=held,
            rows=free_rows[k],
            held_rows=held_rows[k],
            balance=free_balance[k],
            held_balance=held_balance[k],
            tension=None if tension is None else tension[k, free],
            held_tension=None if tension is None else tension[k, held],
            weighted=weighted[k],
            own=own,
            template=template[k],
        )
        for k in range(len(rows))
    ]


def prepare(joint: ReducedJoint, heat: Heat, outside_load: float, absent: frozenset[str]) -> StepSystem:
    """Return the joint at one thermal state with its linear laws eliminated.

    outside_load : N that cylinder pressure takes from the clamped faces
    absent       : interfaces that do not exist yet
    """
    return prepare_many(joint, (heat,), outside_load, absent)[0]


def prepare_many(
    joint: ReducedJoint, heats: Sequence[Heat], outside_load: float, absent: frozenset[str]
) -> list[StepSystem]:
    """Return what `prepare` does at several thermal states (t,), their matrices made together."""
    n, bodies, count = joint.n_ports, len(joint.bodies), len(heats)
    present = np.ones(n, dtype=bool)
    for name in absent:
        if joint.has(name):
            present[joint.slices[name]] = False
    ratios = np.stack([heat.modulus_ratio for heat in heats])
    compliance = np.tensordot(1.0 / ratios, joint.body_compliance, axes=1)
    constant = np.stack([joint.gap if h.gap_change is None else joint.gap + h.gap_change for h in heats])
    for index in range(bodies):
        amplitudes = np.stack([heat.amplitudes[index] for heat in heats])
        constant += amplitudes @ joint.strain_response[index][:, : amplitudes.shape[1]].T
        if outside_load:
            body = joint.bodies[index]
            pushed = joint.weights[index].T @ (body.compliance @ joint.outside[index])
            constant += np.multiply.outer(outside_load / ratios[:, index], pushed)
    floating = np.array([i for i in range(bodies) if joint.bodies[i].floating], dtype=int)
    names = tuple(joint.travels)
    columns = [joint.rigid[:, floating], *[joint.travels[name][:, None] for name in names]]
    if joint.shank is not None:
        body_index, mode, law = joint.shank
        columns.append(joint.strain_response[body_index][:, mode][:, None] / law.length)
    extra = np.concatenate(columns, axis=1)

    linear = np.flatnonzero(joint.linear & present)
    q = np.flatnonzero(~joint.linear & present)
    nq, n_extra, n_float, n_linear = len(q), extra.shape[1], len(floating), len(linear)
    width = nq + n_extra
    rows = np.empty((count, nq, width))
    rows[:, :, :nq] = compliance[:, q[:, None], q]
    rows[:, :, nq:] = extra[q]
    at_rest = constant[:, q]
    if n_linear:
        block = compliance[:, linear[:, None], linear]
        block[:, np.arange(n_linear), np.arange(n_linear)] += joint.linear_compliance[linear]
        right = np.empty((count, n_linear, width + 1))
        across = right[:, :, :nq] = compliance[:, linear[:, None], q]
        right[:, :, nq:width] = extra[linear]
        right[:, :, width] = constant[:, linear]
        solved = -np.linalg.solve(block, right)
        back, force_at_rest = solved[:, :, :width], solved[:, :, width]
        rows += across.swapaxes(1, 2) @ back
        at_rest = at_rest + (across.swapaxes(1, 2) @ force_at_rest[:, :, None])[:, :, 0]
    else:
        back, force_at_rest = np.zeros((count, 0, width)), np.zeros((count, 0))
        block, across = np.zeros((count, 0, 0)), np.zeros((count, 0, nq))

    rigid = joint.rigid[:, floating]
    balance = rigid[linear].T @ back
    balance[:, :, :nq] += rigid[q].T
    balance[:, np.arange(n_float), nq + np.arange(n_float)] -= LOOSE_STIFFNESS
    outside_axial = np.array([joint.bodies[i].axial_resultant @ joint.outside[i] for i in floating])
    balance_at_rest = force_at_rest @ rigid[linear] + outside_load * outside_axial
    tension, tension_at_rest, tension_linear = _tensions(
        joint, heats, ratios, outside_load, (q, linear), back, force_at_rest
    )

    contact, weights, others, parts = [], [], [], []
    position = 0
    for index, face in enumerate(joint.interfaces):
        if face.law.linear or face.name in absent:
            continue
        part = slice(position, position + face.count)
        parts.append((index, part))
        if isinstance(face.law, UnilateralContact):
            contact.append(np.arange(part.start, part.stop))
            weights.append(np.full(face.count, face.law.weight))
        else:
            others.append((index, part))
        position += face.count
    touching = np.concatenate(contact) if contact else np.zeros(0, dtype=int)
    weight = np.concatenate(weights) if weights else np.zeros(0)
    systems = [
        StepSystem(
            heat=heat,
            outside_load=outside_load,
            absent=absent,
            compliance=compliance[k],
            extra=extra,
            constant=constant[k],
            nonlinear=q,
            linear=linear,
            floating=floating,
            travel_names=names,
            rows=rows[k],
            opening_at_rest=at_rest[k],
            back=back[k],
            force_at_rest=force_at_rest[k],
            balance=balance[k],
            balance_at_rest=balance_at_rest[k],
            tension=None if tension is None else tension[k],
            tension_at_rest=float(tension_at_rest[k]),
            contact=touching,
            contact_weight=weight,
            others=tuple(others),
            parts=tuple(parts),
            linear_block=block[k],
            across=across[k],
            rigid_linear=rigid[linear],
            tension_linear=tension_linear,
        )
        for k, heat in enumerate(heats)
    ]
    if count > 1:
        free = _free_parts(rows, balance, tension, (nq, n_float), names, touching, weight, None)
        for system, part_at_rest in zip(systems, free, strict=True):
            vars(system)["at_rest"] = part_at_rest  # the cached property, filled for all at once
    return systems


def _tensions(
    joint: ReducedJoint,
    heats: Sequence[Heat],
    ratios: Array,
    outside_load: float,
    ports: tuple[Array, Array],
    back: Array,
    force_at_rest: Array,
) -> tuple[Array | None, Array, Array]:
    """The stud's tension at several instants: rows (t, unknowns), values at rest (t,), and by the linear ports' forces (l,).

    ports : numbers of the nonlinear and of the linear ports
    """
    q, linear = ports
    if joint.shank is None:
        return None, np.zeros(len(heats)), np.zeros(len(linear))
    body_index, mode, law = joint.shank
    both = joint.bodies[body_index].tension
    assert both is not None
    force_row, strain_row = both
    by_port = force_row @ joint.weights[body_index]
    rows = by_port[linear] @ back
    rows[:, : len(q)] += by_port[q]
    ratio = ratios[:, body_index]
    rows[:, -1] += ratio * strain_row[mode] / law.length
    amplitudes = np.stack([heat.amplitudes[body_index] for heat in heats])
    at_rest = force_at_rest @ by_port[linear] + ratio * (amplitudes @ strain_row[: amplitudes.shape[1]])
    at_rest += outside_load * float(force_row @ joint.outside[body_index])
    return rows, at_rest, by_port[linear]
