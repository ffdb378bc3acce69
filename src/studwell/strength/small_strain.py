"""Whether a setup strains so far that the equations, which hold for small strain, no longer say what it does."""

from __future__ import annotations

import numpy as np

from studwell.fem.elasticity import von_mises
from studwell.fem.inelastic import SMALL_STRAIN
from studwell.joint.build import BuiltJoint
from studwell.strength.floor import CORNER
from studwell.strength.timeline import Timeline, stresses

Array = np.ndarray


def beyond_small_strain(built: BuiltJoint, timeline: Timeline) -> str:
    """Return which body strains beyond SMALL_STRAIN and by how much, in words; "" if none is seen to.

    Seen are mean pressures on the faces of layers, washers, boss and nut and the averaged stress at the floor's corner over
    the body's modulus, and the plastic strain of what may yield.
    """
    worst = {**_elastic(built, timeline)}
    for state in timeline.states:
        for name, strain in ({} if state.flow is None else state.flow.plastic).items():
            if strain > worst.get(name, (0.0, ""))[0]:
                worst[name] = (strain, "plastic strain")
    far = {name: found for name, found in worst.items() if found[0] > SMALL_STRAIN}
    return "; ".join(
        f"{kind} of the {name} reaches {strain:.2g}, beyond small strain ({SMALL_STRAIN:g})"
        for name, (strain, kind) in far.items()
    )


def _elastic(built: BuiltJoint, timeline: Timeline) -> dict[str, tuple[float, str]]:
    """Body -> largest elastic strain over the history, and what it is called."""
    joint = built.joint
    names = [body.spec.name for body in built.bodies]
    ratios = np.stack([state.heat.modulus_ratio for state in timeline.states])
    ports = np.stack([state.forces for state in timeline.states])
    seen: dict[str, list[Array]] = {}
    for joining in built.layout.joinings:
        area = np.pi * (joining.outer**2 - joining.inner**2)
        pressure = np.abs(joint.axial_load(joining.name, ports)) / area
        for name in (joining.lower, joining.upper):
            if name in names:
                seen.setdefault(name, []).append(pressure)
    if CORNER in joint.bodies[joint.body_index("boss")].stress:
        corner = stresses(joint, timeline, "boss", CORNER)
        seen.setdefault("boss", []).append(von_mises(corner).max(axis=1))
    found = {}
    for name, pressures in seen.items():
        number = joint.body_index(name)
        modulus = float(built.bodies[number].material.youngs_modulus.at(20.0)) * ratios[:, number]
        found[name] = (float(np.max(np.max(pressures, axis=0) / modulus)), "elastic strain")
    return found
