"""A joint at one instant with its linear laws eliminated: what every state at that instant shares."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import scipy.linalg

from studwell.joint.laws import UnilateralContact
from studwell.joint.reduced import ReducedJoint
from studwell.joint.state import Heat, mode_amplitudes

Array = np.ndarray

LOOSE_STIFFNESS = 1e-8
"""N/mm that keeps a body in place which nothing touches; at 1 mm it carries 1e-8 N. A numerical device, no part."""


@dataclass(frozen=True)
class StepSystem:
    """A joint at one thermal state with its linear laws eliminated: what every state at that instant shares.

    Unknowns: forces of the q nonlinear ports, shifts of the floating bodies, travels of all screws, plastic stretch.
    opening of the nonlinear ports = rows @ unknowns + opening_at_rest
    forces of the linear ports     = back @ unknowns + force_at_rest
    gap_to_linear (l, l): what a gap added to the linear ports adds to force_at_rest; across (l, q), rigid_linear and
    tension_linear carry that on to the openings, the balances and the tension
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
    gap_to_linear: Array = field(repr=False)
    across: Array = field(repr=False)
    rigid_linear: Array = field(repr=False)
    tension_linear: Array = field(repr=False)

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
    nq, n_float = len(system.nonlinear), len(system.floating)
    moving = np.ones(system.rows.shape[1], dtype=bool)
    for i, name in enumerate(system.travel_names):
        moving[nq + n_float + i] = name == turned
    free, held = np.flatnonzero(moving), np.flatnonzero(~moving)
    rows, balance = system.rows[:, free], system.balance[:, free]
    template = np.zeros((len(free), len(free)))
    template[nq : nq + n_float] = balance
    return Free(
        free=free,
        held=held,
        rows=rows,
        held_rows=system.rows[:, held],
        balance=balance,
        held_balance=system.balance[:, held],
        tension=None if system.tension is None else system.tension[free],
        held_tension=None if system.tension is None else system.tension[held],
        weighted=system.contact_weight[:, None] * rows[system.contact],
        own=np.eye(len(free))[system.contact],
        template=template,
    )


def prepare(joint: ReducedJoint, heat: Heat, outside_load: float, absent: frozenset[str]) -> StepSystem:
    """Return the joint at one thermal state with its linear laws eliminated.

    outside_load : N that cylinder pressure takes from the clamped faces
    absent       : interfaces that do not exist yet
    """
    n, bodies = joint.n_ports, len(joint.bodies)
    present = np.ones(n, dtype=bool)
    for name in absent:
        if joint.has(name):
            present[joint.slices[name]] = False
    ratios = heat.modulus_ratio
    compliance = np.tensordot(1.0 / ratios, joint.body_compliance, axes=1)
    constant = joint.gap.copy()
    if heat.gap_change is not None:
        constant += heat.gap_change
    for index in range(bodies):
        constant += joint.strain_response[index] @ mode_amplitudes(joint, index, heat, 0.0)
        if outside_load:
            body = joint.bodies[index]
            constant += (outside_load / ratios[index]) * (
                joint.weights[index].T @ (body.compliance @ joint.outside[index])
            )
    floating = np.array([i for i in range(bodies) if joint.bodies[i].floating], dtype=int)
    names = tuple(joint.travels)
    columns = [joint.rigid[:, floating], *[joint.travels[name][:, None] for name in names]]
    if joint.shank is not None:
        body_index, mode, law = joint.shank
        columns.append(joint.strain_response[body_index][:, mode][:, None] / law.length)
    extra = np.concatenate(columns, axis=1)

    linear = np.flatnonzero(joint.linear & present)
    q = np.flatnonzero(~joint.linear & present)
    nq, n_extra, n_float = len(q), extra.shape[1], len(floating)
    rows = np.concatenate([compliance[np.ix_(q, q)], extra[q]], axis=1)
    at_rest = constant[q]
    if len(linear):
        block = compliance[np.ix_(linear, linear)]
        block[np.diag_indices(len(linear))] += joint.linear_compliance[linear]
        across = compliance[np.ix_(linear, q)]
        right = np.concatenate([across, extra[linear], constant[linear][:, None], np.eye(len(linear))], axis=1)
        factor = scipy.linalg.cho_factor(block, lower=True, overwrite_a=True, check_finite=False)
        solved = -scipy.linalg.cho_solve(factor, right, overwrite_b=True, check_finite=False)
        width = nq + n_extra
        back, force_at_rest, gap_to_linear = solved[:, :width], solved[:, width], solved[:, width + 1 :]
        rows += across.T @ back
        at_rest = at_rest + across.T @ force_at_rest
    else:
        back, force_at_rest = np.zeros((0, nq + n_extra)), np.zeros(0)
        gap_to_linear, across = np.zeros((0, 0)), np.zeros((0, nq))

    rigid = joint.rigid[:, floating]
    balance = rigid[linear].T @ back
    balance[:, :nq] += rigid[q].T
    balance[np.arange(n_float), nq + np.arange(n_float)] -= LOOSE_STIFFNESS
    outside_axial = np.array([joint.bodies[i].axial_resultant @ joint.outside[i] for i in floating])
    balance_at_rest = rigid[linear].T @ force_at_rest + outside_load * outside_axial

    tension, tension_at_rest, tension_linear = None, 0.0, np.zeros(len(linear))
    if joint.shank is not None:
        tension_rows = joint.bodies[joint.shank[0]].tension
        assert tension_rows is not None
        tension_linear = (tension_rows[0] @ joint.weights[joint.shank[0]])[linear]
        tension, tension_at_rest = _tension_row(joint, heat, outside_load, q, linear, back, force_at_rest, n_extra)

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
    return StepSystem(
        heat=heat,
        outside_load=outside_load,
        absent=absent,
        compliance=compliance,
        extra=extra,
        constant=constant,
        nonlinear=q,
        linear=linear,
        floating=floating,
        travel_names=names,
        rows=rows,
        opening_at_rest=at_rest,
        back=back,
        force_at_rest=force_at_rest,
        balance=balance,
        balance_at_rest=balance_at_rest,
        tension=tension,
        tension_at_rest=tension_at_rest,
        contact=np.concatenate(contact) if contact else np.zeros(0, dtype=int),
        contact_weight=np.concatenate(weights) if weights else np.zeros(0),
        others=tuple(others),
        parts=tuple(parts),
        gap_to_linear=gap_to_linear,
        across=across,
        rigid_linear=rigid[linear],
        tension_linear=tension_linear,
    )


def _tension_row(
    joint: ReducedJoint,
    heat: Heat,
    outside_load: float,
    q: Array,
    linear: Array,
    back: Array,
    force_at_rest: Array,
    n_extra: int,
) -> tuple[Array, float]:
    """Return the stud's tension as a row over the unknowns and its value at rest."""
    assert joint.shank is not None
    body_index, mode, law = joint.shank
    rows = joint.bodies[body_index].tension
    assert rows is not None
    force_row, strain_row = rows
    ports = force_row @ joint.weights[body_index]
    row = ports[linear] @ back
    row[: len(q)] += ports[q]
    ratio = float(heat.modulus_ratio[body_index])
    row[len(q) + n_extra - 1] += ratio * strain_row[mode] / law.length
    at_rest = float(ports[linear] @ force_at_rest)
    at_rest += ratio * float(strain_row @ mode_amplitudes(joint, body_index, heat, 0.0))
    at_rest += outside_load * float(force_row @ joint.outside[body_index])
    return row, at_rest
