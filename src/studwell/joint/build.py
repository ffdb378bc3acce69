"""A setup into its reduced joint: lay out, mesh, condense each body once, tie them."""

from __future__ import annotations

import hashlib
from collections.abc import MutableMapping
from dataclasses import dataclass, field

import numpy as np

from studwell.case.records import Setup
from studwell.errors import Unknown
from studwell.joint.bodies import SectionBody, section_bodies
from studwell.joint.body import BodyResponse
from studwell.joint.condense import BodySpec, FieldMode, condense
from studwell.joint.fluid_law import pocket_interface
from studwell.joint.interfaces import section_interfaces
from studwell.joint.laws import ShankLaw
from studwell.joint.reduced import ReducedJoint, assemble
from studwell.section.layout import Layout, lay_out
from studwell.section.pocket import pocket_shape
from studwell.section.seat import Seat, first_seat

BodyCache = MutableMapping[str, BodyResponse]


@dataclass(frozen=True)
class BuiltJoint:
    """A setup's section, its bodies with their meshes, and the reduced joint."""

    setup: Setup
    layout: Layout
    seat: Seat
    bodies: tuple[SectionBody, ...] = field(repr=False)
    joint: ReducedJoint = field(repr=False)
    condensed: int

    @property
    def unknowns(self) -> int:
        """Displacement unknowns of all bodies together."""
        return sum(body.unknowns for body in self.joint.bodies)


def build_joint(
    setup: Setup,
    *,
    yield_strength: float,
    ultimate_strength: float,
    hardening_strain: float,
    refinement: float = 1.0,
    tip_friction: float = 0.0,
    cache: BodyCache | None = None,
    fields: bool = True,
    like: BuiltJoint | None = None,
    bodies: tuple[SectionBody, ...] | None = None,
) -> BuiltJoint:
    """Return the reduced joint of a setup.

    yield_strength, ultimate_strength : MPa of the stud's class; hardening_strain : strain between them
    refinement : mesh density, 1 = standard
    tip_friction : Coulomb friction of the tip in the section's plane
    cache  : condensed bodies by the hash of what they depend on; bodies that are found there are not condensed again
    fields : keep whole displacement fields (for pictures)
    bodies : bodies laid out already (with solved heat, say); None makes them
    like   : a joint of the same dimensions and materials, whose layout and bodies are taken over
    raises Unknown, BadMesh, ValueError : dimensions that this model does not hold
    """
    layout = lay_out(setup, refinement) if like is None else like.layout
    seat = first_seat(setup)
    if like is not None:
        bodies = like.bodies
    elif bodies is None:
        bodies = section_bodies(setup, layout, setup.history.node_names)
    responses: dict[str, BodyResponse] = {}
    condensed = 0
    if like is not None:
        responses = {response.name: response for response in like.joint.bodies}
    for body in bodies if like is None else ():
        key = body_key(body.spec, fields)
        response = None if cache is None else cache.get(key)
        if response is None:
            response = condense(body.spec, fields=fields)
            condensed += 1
            if cache is not None:
                cache[key] = response
        responses[body.spec.name] = response
    interfaces = section_interfaces(setup, layout, responses, tip_friction)
    if setup.pocket.filled:
        if setup.boss.insert is not None:
            raise Unknown(
                "a liquid under a stud in an insert: it runs into the gap behind the insert, and what it pushes on is not "
                "known to this model"
            )
        meshes = {body.spec.name: body.spec.mesh for body in bodies}
        shape = pocket_shape(meshes["boss"], meshes["stud"])
        interfaces = (*interfaces, pocket_interface(setup, shape, responses))
    shank = ShankLaw(
        layout.stretch_area, layout.stretch_length, (ultimate_strength - yield_strength) / hardening_strain
    )
    travels: dict[str, dict[str, np.ndarray]] = {}
    for travel, name in (("stud", "boss thread"), ("nut", "nut thread")):
        face = next(face for face in interfaces if face.name == name)
        travels[travel] = {name: -face.axial if face.travel is None else face.travel}
    outside = {}
    if setup.pressure is not None:
        outside[layout.head] = _share(responses[layout.head], "bottom")
    joint = assemble(
        [responses[body.spec.name] for body in bodies],
        interfaces,
        travels=travels,
        shank=("stud", "stretch", shank),
        outside=outside,
    )
    return BuiltJoint(setup, layout, seat, bodies, joint, condensed)


def _share(body: BodyResponse, group: str) -> np.ndarray:
    columns = np.zeros(body.n_columns)
    columns[body.columns[group]] = body.areas[group] / body.areas[group].sum()
    return columns


def body_key(spec: BodySpec, fields: bool) -> str:
    """Return the hash of all that a condensed body depends on: mesh, material, faces, modes, wanted stresses."""
    digest = hashlib.sha256()
    digest.update(np.ascontiguousarray(spec.mesh.nodes).tobytes())
    digest.update(np.ascontiguousarray(spec.mesh.elements).tobytes())
    for kind in (spec.mesh.regions, spec.mesh.boundaries):
        for name in sorted(kind):
            digest.update(name.encode())
            digest.update(np.ascontiguousarray(kind[name]).tobytes())
    for name in sorted(spec.stress_points):
        digest.update(name.encode())
        digest.update(np.ascontiguousarray(spec.stress_points[name]).tobytes())
    for mode in spec.modes:
        if isinstance(mode, FieldMode):
            digest.update(np.ascontiguousarray(mode.nodal).tobytes())
    rest = (
        spec.name,
        spec.youngs_modulus,
        spec.poisson,
        sorted(spec.columns.items()),
        spec.modes,
        spec.grip,
        spec.floating,
        sorted(spec.stress_regions.items()),
        spec.tension_region,
        spec.axial_share,
        fields,
    )
    digest.update(repr(rest).encode())
    return digest.hexdigest()
