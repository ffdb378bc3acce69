"""Which bodies of a joint may flow and creep: the boss's zone, whole layers, their materials and stress places."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import scipy.sparse as sp

from studwell.case.records import Inelastic as Wanted
from studwell.errors import Unknown
from studwell.fem.factor import factorise
from studwell.fem.inelastic_data import Backstress, Inelastic, NortonCreep, Plasticity
from studwell.joint.bodies import SectionBody
from studwell.joint.condense import BodySpec, BodySystem, body_system
from studwell.joint.flowing import AddedStress, FlowingBodies, held_stiffness
from studwell.joint.reduced import ReducedJoint
from studwell.joint.zone import InelasticZone, inelastic_zone
from studwell.mesh.reference_element import shapes
from studwell.parts.flow import SATURATED
from studwell.parts.material import Curve, Material
from studwell.section.layout import Layout

Array = np.ndarray


def flowing_bodies(wanted: Wanted, layout: Layout, bodies: Sequence[SectionBody], joint: ReducedJoint) -> FlowingBodies:
    """Return the bodies of a joint that may flow: the boss's zone where it is asked for, and every named layer whole.

    raises Unknown : a body's material has no data for it, or the boss's zone holds nothing
    """
    chosen: dict[str, Array | None] = {}
    if wanted.zone is not None:
        chosen["boss"] = _boss_elements(wanted.zone, layout, bodies[joint.body_index("boss")].spec)
    chosen |= dict.fromkeys(wanted.layers)
    zones, materials, places = {}, {}, {}
    for name, elements in chosen.items():
        index = joint.body_index(name)
        body = bodies[index]
        try:
            materials[name] = inelastic_material(body.material, wanted.creep)
        except Unknown as unknown:
            raise Unknown(f"{name}: {unknown.reason}") from unknown
        zones[name] = inelastic_zone(body.spec, elements, response=joint.bodies[index])
        places[name] = added_stress(body.spec, zones[name])
    return FlowingBodies(zones, materials, places)


def _boss_elements(zone: float | str, layout: Layout, spec: BodySpec) -> Array | None:
    """Elements of the boss within a zone (mm from the corner fillet) and under the judged bands; None: all."""
    if zone == "boss":
        return None
    mesh = spec.mesh
    judged = [mesh.elements_of(region) for names in spec.stress_regions.values() for region in names]
    reach = layout.boss.corner_radius + float(zone)
    away = np.hypot(*(mesh.nodes[mesh.elements].mean(axis=1) - np.asarray(layout.boss.fillet_centre)).T)
    elements = np.unique(np.concatenate([np.flatnonzero(away <= reach), *judged]))
    if not len(elements):
        raise Unknown(f"the zone of {float(zone):g} mm holds no element of the boss's mesh: widen it")
    return elements


def inelastic_material(material: Material, creep: bool) -> Inelastic:
    """Return a material's elastic constants at the reference temperature with its hardening and creep.

    The flow stress rises from yield to tensile strength; half and half, or as the data say, by growing and moving.
    raises Unknown : yield strength, hardening or creep not known
    """
    if material.yield_strength is None:
        raise Unknown(f"the yield strength of {material.name} is not known, so where it flows is not")
    if material.hardening is None:
        raise Unknown(f"how {material.name} hardens is not known (no data): [material] hardening_modulus states it")
    if creep and material.creep is None:
        raise Unknown(f"how {material.name} creeps is not known (no data): [material] creep_* keys state it")
    hardening = material.hardening
    if hardening.strain is None:
        plasticity = Plasticity(material.yield_strength, linear=float(hardening.modulus or 0.0))
    else:
        rise = _rise(material)
        share, rate = hardening.backstress_share, SATURATED / hardening.strain
        moving = Curve(rise.temperatures, tuple(share * rate * value for value in rise.values))
        growing = Curve(rise.temperatures, tuple((1.0 - share) * value for value in rise.values))
        plasticity = Plasticity(material.yield_strength, 0.0, growing, rate, (Backstress(moving, rate),))
    law = None
    if creep and material.creep is not None:
        data = material.creep
        law = NortonCreep(data.exponent, Curve(data.temperatures, data.coefficients), data.valid)
    young = float(material.youngs_modulus.at(20.0))
    return Inelastic(young, material.poisson, plasticity=plasticity, creep=law)


def _rise(material: Material) -> Curve:
    """Tensile strength less yield strength against temperature, MPa."""
    low, high = material.yield_strength, material.ultimate_strength
    if low is None or high is None:
        raise Unknown(f"the tensile strength of {material.name} is not known, so how far it hardens is not")
    at = sorted({*low.temperatures, *high.temperatures})
    values = tuple(float(high.at(t)) - float(low.at(t)) for t in at)
    if min(values) < 0:
        raise Unknown(f"the tensile strength of {material.name} lies below its yield strength: softening is not solved")
    return Curve(tuple(at), values)


def added_stress(spec: BodySpec, zone: InelasticZone) -> dict[str, AddedStress]:
    """Return for every stress map of a body what a zone's inelastic strain adds to it.

    Averages over regions inside the zone are exact, and so is all beyond it, by reciprocity; at points inside, what is
    added is the polynomial through the nine points of the element.
    """
    system = body_system(spec)
    result = {}
    for place, regions in spec.stress_regions.items():
        result[place] = _region_places(system, zone, regions)
    wanted = {name: np.asarray(points, float) for name, points in spec.stress_points.items()}
    if wanted:
        result |= _point_places(system, zone, wanted)
    return result


def _region_places(system: BodySystem, zone: InelasticZone, regions: Sequence[str]) -> AddedStress:
    row_of = {int(element): row for row, element in enumerate(zone.elements)}
    q = system.space.weights.shape[1]
    values = np.zeros((len(regions), zone.n_points))
    for number, region in enumerate(regions):
        elements = system.spec.mesh.elements_of(region)
        if not set(map(int, elements)) <= set(row_of):
            raise ValueError(f"the region {region!r} lies outside the zone that may flow")
        weights = system.space.weights[elements]
        for element, own in zip(elements, weights / weights.sum(), strict=True):
            start = q * row_of[int(element)]
            values[number, start : start + q] = own
    nothing = np.zeros(0, dtype=int)
    return AddedStress(np.arange(len(regions)), sp.csr_matrix(values), nothing, np.zeros((0, 4, len(zone.unknowns))))


def _point_places(system: BodySystem, zone: InelasticZone, wanted: Mapping[str, Array]) -> dict[str, AddedStress]:
    space = system.space
    row_of = np.full(len(space.elements), -1)
    row_of[zone.elements] = np.arange(len(zone.elements))
    q = space.weights.shape[1]
    from_points = np.linalg.inv(space.shapes)
    found: dict[str, tuple[Array, sp.csr_matrix, Array]] = {}
    outside = []
    for name, points in wanted.items():
        element, local = space.locate(points)
        rows = row_of[element]
        inside, beyond = np.flatnonzero(rows >= 0), np.flatnonzero(rows < 0)
        values = shapes(local[inside]) @ from_points
        columns = q * rows[inside][:, None] + np.arange(q)
        heads = np.arange(0, values.size + 1, q)
        matrix = sp.csr_matrix((values.ravel(), columns.ravel(), heads), (len(inside), zone.n_points))
        found[name] = (inside, matrix, beyond)
        outside.append(points[beyond])
    far = np.concatenate(outside)
    rows = np.zeros((len(far), 4, len(zone.unknowns)))
    if len(far):
        factor = zone.factor or factorise(held_stiffness(system))
        strains = space.strain_operator(far)
        answer = np.zeros((space.n_unknowns, strains.shape[0]))
        answer[system.kept] = factor.solve(strains.T.toarray()[system.kept])
        unit = answer[zone.unknowns].T.reshape(len(far), 4, -1)
        rows = np.ascontiguousarray(system.elastic @ unit)
    result, start = {}, 0
    for name, (inside, matrix, beyond) in found.items():
        result[name] = AddedStress(inside, matrix, beyond, np.ascontiguousarray(rows[start : start + len(beyond)]))
        start += len(beyond)
    return result
