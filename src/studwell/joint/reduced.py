"""The reduced joint: bodies' responses tied by interfaces, as dense numbers only."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from studwell.joint.body import BodyResponse
from studwell.joint.laws import Law, ShankLaw

Array = np.ndarray


@dataclass(frozen=True)
class Interface:
    """Pairs of edges and the law on them.

    weights : body name -> (columns of that body, ports): force on the body's columns of a unit port force
    gap     : (ports,) mm, opening of the undeformed joint
    axial   : (ports,) axial force carried by a unit port force (1 for a flat face, sin of the half angle ... on a cone)
    travel  : (ports,) opening per mm that its screw advances; None: less the axial shares
    heights : (ports,) z of the middles of a thread's edges, mm; None for other faces
    """

    name: str
    law: Law
    weights: Mapping[str, Array] = field(repr=False)
    gap: Array = field(repr=False)
    axial: Array = field(repr=False)
    travel: Array | None = field(default=None, repr=False)
    heights: Array | None = field(default=None, repr=False)

    @property
    def count(self) -> int:
        return len(self.gap)


@dataclass(frozen=True)
class ReducedJoint:
    """Bodies condensed to ports: everything that a history needs, no mesh.

    n ports in all, B bodies. body_compliance (B, n, n) mm/N at reference moduli; the joint's compliance is the sum
    over bodies divided by each body's modulus ratio. rigid (n, B): opening of each port per mm of axial shift of
    each floating body (zero columns for held bodies). strain_response: per body (n, k). gap (n,).
    travels: name -> (n,) opening per mm of a screw's travel. plastic: (body index, mode index, law) of the shank.
    """

    bodies: tuple[BodyResponse, ...]
    interfaces: tuple[Interface, ...]
    slices: Mapping[str, slice]
    body_compliance: Array = field(repr=False)
    rigid: Array = field(repr=False)
    strain_response: tuple[Array, ...] = field(repr=False)
    weights: tuple[Array, ...] = field(repr=False)
    gap: Array = field(repr=False)
    travels: Mapping[str, Array] = field(repr=False)
    shank: tuple[int, int, ShankLaw] | None
    outside: tuple[Array, ...] = field(repr=False)
    linear: Array = field(repr=False)
    linear_compliance: Array = field(repr=False)

    @property
    def n_ports(self) -> int:
        return len(self.gap)

    def body_index(self, name: str) -> int:
        return next(i for i, body in enumerate(self.bodies) if body.name == name)

    def interface(self, name: str) -> Interface:
        return next(face for face in self.interfaces if face.name == name)

    def has(self, name: str) -> bool:
        return name in self.slices

    def axial_load(self, name: str, forces: Array) -> Array:
        """Return the axial force (...) N that an interface carries, from port forces (..., n) N."""
        return forces[..., self.slices[name]] @ self.interface(name).axial

    def column_forces(self, body: int, forces: Array, pressure_load: Array | float = 0.0) -> Array:
        """Return the forces (..., m) N on a body's columns from port forces (..., n) and the outside load (...) N."""
        return forces @ self.weights[body].T + np.multiply.outer(np.asarray(pressure_load), self.outside[body])


def assemble(
    bodies: Sequence[BodyResponse],
    interfaces: Sequence[Interface],
    travels: Mapping[str, Mapping[str, Array]] | None = None,
    shank: tuple[str, str, ShankLaw] | None = None,
    outside: Mapping[str, Array] | None = None,
) -> ReducedJoint:
    """Tie condensed bodies with interfaces.

    travels : name of a screw travel -> interface name -> (ports,) opening per mm of travel
    shank   : (body name, mode name, law) of the stud's plastic stretch
    outside : body name -> (columns,) force on the body's columns per newton of outside load
    returns : ReducedJoint
    raises ValueError : an interface names a body that is not there
    """
    names = [body.name for body in bodies]
    for face in interfaces:
        missing = set(face.weights) - set(names)
        if missing:
            raise ValueError(f"interface {face.name} names no such body: {sorted(missing)}")
    slices, start = {}, 0
    for face in interfaces:
        slices[face.name] = slice(start, start + face.count)
        start += face.count
    n = start
    weights = []
    for body in bodies:
        matrix = np.zeros((body.n_columns, n))
        for face in interfaces:
            if body.name in face.weights:
                matrix[:, slices[face.name]] = face.weights[body.name]
        weights.append(matrix)
    compliance = np.stack([w.T @ b.compliance @ w for b, w in zip(bodies, weights, strict=True)])
    rigid = np.stack(
        [w.T @ b.axial_resultant if b.floating else np.zeros(n) for b, w in zip(bodies, weights, strict=True)], axis=1
    )
    strain = tuple(w.T @ b.strain_response for b, w in zip(bodies, weights, strict=True))
    gap = np.concatenate([np.asarray(face.gap, dtype=float) for face in interfaces]) if n else np.zeros(0)
    travel_columns = {}
    for travel, per_face in (travels or {}).items():
        column = np.zeros(n)
        for face_name, values in per_face.items():
            column[slices[face_name]] = values
        travel_columns[travel] = column
    linear = np.zeros(n, dtype=bool)
    linear_compliance = np.zeros(n)
    for face in interfaces:
        if face.law.linear:
            linear[slices[face.name]] = True
            linear_compliance[slices[face.name]] = face.law.compliance  # type: ignore[attr-defined]
    shank_index = None
    if shank is not None:
        body_index = names.index(shank[0])
        shank_index = (body_index, bodies[body_index].modes.index(shank[1]), shank[2])
    loads = tuple(np.asarray((outside or {}).get(b.name, np.zeros(b.n_columns)), dtype=float) for b in bodies)
    return ReducedJoint(
        bodies=tuple(bodies),
        interfaces=tuple(interfaces),
        slices=slices,
        body_compliance=compliance,
        rigid=rigid,
        strain_response=strain,
        weights=tuple(weights),
        gap=gap,
        travels=travel_columns,
        shank=shank_index,
        outside=loads,
        linear=linear,
        linear_compliance=linear_compliance,
    )
