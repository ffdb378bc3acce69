"""Third view of cracking: the weakest link of the boss's stressed volume."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studwell.fem.elasticity import first_principal
from studwell.joint.build import BuiltJoint
from studwell.parts.weakest_link import effective_volume, failure_probability, needed_strength, risk
from studwell.strength.recovery import SpaceCache, quadrature_stress
from studwell.strength.timeline import Timeline

Array = np.ndarray

ASKED = 1e-3
"""Probability of failure for which a needed strength is told where the case asks for none. Our own choice."""

ASKED_VOLUME = 1000.0
"""mm3, the volume that a needed strength is told of where the material names none. Our own choice."""

CAST = "cast"

ELASTIC, CUT, FOLLOWED = "elastic", "cut off at the zone's edge", "followed"
"""How a boss's stress took yielding in: not at all, in a zone that was too small for it, or wherever it came."""


@dataclass(frozen=True)
class WeakestLink:
    """The boss at its worst state.

    probability     : None if the material's scatter is not known, with the reason
    ratio           : load over the load at which the allowed (or, none stated, 63.2 %) probability is reached
    effective       : mm3, volume that would be as likely to break at `largest`, MPa, alone; None without a modulus
    needed          : MPa, the strength weibull_strength of `volume` mm3 that keeps the probability `allowed`
    index           : the state
    yielding        : ELASTIC, CUT or FOLLOWED
    """

    probability: float | None
    ratio: float | None
    effective: float | None
    largest: float | None
    needed: float | None
    volume: float
    allowed: float
    modulus: float | None
    index: int | None
    reason: str = ""
    yielding: str = ELASTIC


def weakest_link(built: BuiltJoint, timeline: Timeline, cache: SpaceCache | None = None) -> WeakestLink:
    """Return the weakest link of the boss: first principal stress, its positive part, at every quadrature point.

    Elastic stress (or what yielding leaves) at the states of the largest tip force, thread load and clamp. Source: Weibull
    1939; the room strength, its fall with heat left out.
    """
    setup = built.setup
    material, crack = setup.boss.material, setup.crack
    modulus, strength = material.weibull_modulus, material.weibull_strength
    volume = material.weibull_volume or ASKED_VOLUME
    allowed = ASKED if crack is None or crack.failure_probability is None else crack.failure_probability
    if modulus is None:
        kind = "" if CAST in material.family else ": it is no casting"
        reason = f"scatter of the strength of {material.name} is not known (no source found){kind}"
        return WeakestLink(None, None, None, None, None, volume, allowed, None, None, reason)
    number = built.joint.body_index("boss")
    if built.joint.bodies[number].displacement is None:
        reason = "the joint was built without whole fields"
        return WeakestLink(None, None, None, None, None, volume, allowed, modulus, None, reason)
    forces = timeline.forces
    picked = np.unique([int(np.argmax(f)) for f in (forces.tip, forces.thread, forces.clamp)])
    space, _, stress = quadrature_stress(built, number, [timeline.states[i] for i in picked], cache)
    pulled = np.maximum(first_principal(np.moveaxis(stress, 2, -1)), 0.0)  # (elements, points, states)
    volumes = [effective_volume(pulled[..., k], space.weights, modulus) for k in range(len(picked))]
    tops = [float(pulled[..., k].max()) for k in range(len(picked))]
    worst = int(np.argmax([v * t**modulus for v, t in zip(volumes, tops, strict=True)]))
    here = pulled[..., worst]
    least = needed_strength(here, space.weights, modulus, volume, allowed) if tops[worst] > 0.0 else 0.0
    index = int(picked[worst])
    if strength is None:
        reason = (
            f"the scale of the strength of {material.name} is not known: bars of {volume:g} mm3 need weibull_strength of "
            f"{least:.0f} MPa for a failure in {1 / allowed:.0f} at modulus {modulus:g}"
        )
        return WeakestLink(None, None, volumes[worst], tops[worst], least, volume, allowed, modulus, index, reason)
    flow = timeline.states[index].flow
    yielding = ELASTIC
    if flow is not None and "boss" in flow.elements:
        yielding = CUT if flow.rim.get("boss", 0.0) > 0.0 else FOLLOWED
    probability = failure_probability(here, space.weights, modulus, strength, volume)
    limit = 1.0 if crack is None or crack.failure_probability is None else -np.log1p(-allowed)
    ratio = float((risk(here, space.weights, modulus, strength, volume) / limit) ** (1.0 / modulus))
    told = (volumes[worst], tops[worst], least, volume, allowed, modulus, index)
    return WeakestLink(probability, ratio, *told, yielding=yielding)
