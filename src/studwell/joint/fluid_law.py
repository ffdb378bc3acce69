"""The law of a liquid in a closed pocket: no pressure beside a void, compressed where it is full, freezing below 0 degC."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from studwell.case.records import Setup
from studwell.joint.body import BodyResponse
from studwell.joint.reduced import Interface
from studwell.section.pocket import PocketShape

Array = np.ndarray

POCKET = "pocket"
"""The interface between the liquid under the tip and what it wets."""


@dataclass(frozen=True)
class PocketState:
    """The liquid in a pocket and what its temperature makes of it until the next state.

    mass       : mm^3 of liquid at the assembly temperature and no pressure
    ratio      : its volume at no pressure now over that, -;  bulk_modulus : MPa
    excess     : mm^3 by which it was larger than the pocket in the last state, at no pressure; negative: a void
    stays, grows : what a leak leaves of that excess, and of what is added to it meanwhile; 1 and 1 if sealed
    ice_ratio  : volume of the ice that it would make over mass, None above the triple point or where it does not freeze
    ice_modulus, melting_pressure : MPa, of that ice
    """

    mass: float = 0.0
    ratio: float = 1.0
    bulk_modulus: float = 1.0
    excess: float = 0.0
    stays: float = 1.0
    grows: float = 1.0
    ice_ratio: float | None = None
    ice_modulus: float = 0.0
    melting_pressure: float = 0.0


@dataclass(frozen=True)
class PocketLaw:
    """Pressure against the pocket's volume at one temperature, as force on one port.

    area   : mm^2, force of the port per pressure;  volume : mm^3 of the pocket as drawn, at opening 0

    p = K (Vf - V) / m with Vf the liquid's volume at no pressure and m that at the assembly temperature, 0 while it leaves
    a void (the gauge pressure never falls below 0). Below the triple point liquid and ice lie beside each other at the
    melting pressure only: the pressure is that of liquid alone above it, of ice alone below it. Ice is taken as a fluid,
    which bounds its push from above.
    A leak's flow goes with the pressure: e' = growth - e / leak time, solved exactly over a step of even growth.
    Source: volume balance, as handbooks write it for a fixed volume, p = K b dT; phase rule of a single substance.
    """

    area: float
    volume: float
    linear: bool = False

    def start(self, count: int) -> PocketState:
        return PocketState()

    def excess(self, volume: float, state: PocketState) -> tuple[float, float]:
        """Return by how much (mm^3) the liquid is larger than the pocket, less what leaks meanwhile, and d / d volume."""
        unleaked = state.mass * state.ratio - volume
        before = max(state.excess, 0.0)
        value = state.stays * before + state.grows * (unleaked - before)
        if value >= unleaked:  # nothing is drawn in
            return unleaked, -1.0
        return value, -state.grows

    def pressure(self, volume: float, state: PocketState) -> tuple[float, float]:
        """Return the pressure (MPa) at a volume of the pocket (mm^3), and its slope (MPa/mm^3)."""
        excess, change = self.excess(volume, state)
        liquid, slope = 0.0, 0.0
        if excess > 0.0:
            whole = volume + excess  # what is left of the mass, times its ratio
            modulus = state.bulk_modulus * state.ratio
            liquid = modulus * excess / whole
            slope = modulus * (change * volume - excess) / whole**2
        if state.ice_ratio is None or state.mass <= 0.0:
            return liquid, slope
        solid = state.mass * state.ice_ratio
        ice = state.ice_modulus * (1.0 - volume / solid)
        frozen, frozen_slope = (0.0, 0.0) if ice <= 0.0 else (ice, -state.ice_modulus / solid)
        if frozen > state.melting_pressure:
            frozen, frozen_slope = state.melting_pressure, 0.0
        return (liquid, slope) if liquid > frozen else (frozen, frozen_slope)

    def frozen_share(self, opening: float, state: PocketState) -> float:
        """Return the share of the mass that is ice at an opening (mm), by the lever rule at the melting pressure."""
        if state.ice_ratio is None or state.mass <= 0.0:
            return 0.0
        volume = self.volume + self.area * opening
        pressure = state.melting_pressure
        ice = state.mass * state.ice_ratio * (1.0 - pressure / state.ice_modulus)
        liquid = state.mass * (state.ratio - pressure / state.bulk_modulus)
        return float(np.clip((volume - liquid) / (ice - liquid), 0.0, 1.0))

    def linearise(self, force: Array, opening: Array, state: PocketState) -> tuple[Array, Array, Array]:
        volume = self.volume + self.area * float(opening[0])
        pressure, slope = self.pressure(volume, state)
        return force - self.area * pressure, np.eye(1), np.array([[-slope * self.area**2]])

    def commit(self, force: Array, opening: Array, state: PocketState) -> PocketState:
        """Return the liquid that is left, with its excess in this state."""
        volume = self.volume + self.area * float(opening[0])
        excess, _ = self.excess(volume, state)
        mass = state.mass
        if excess > 0.0:
            mass = min(mass, (volume + excess) / state.ratio)
        return replace(state, mass=mass, excess=excess, stays=1.0, grows=1.0)

    def violation(self, force: Array, opening: Array, state: PocketState) -> float:
        residual, _, _ = self.linearise(force, opening, state)
        return float(np.abs(residual[0]))


def pocket_interface(setup: Setup, shape: PocketShape, bodies: Mapping[str, BodyResponse]) -> Interface:
    """Return the port of a liquid's pressure: 1 N is the pressure of 1 N on the tip's own circle, on all wetted faces.

    Its opening is the change of the pocket's volume over that circle; its axial force is that on the sealed area.
    """
    area = np.pi / 4.0 * setup.stud.tip_diameter**2
    weights = {}
    for name in ("boss", "stud"):
        body = bodies[name]
        weights[name] = np.zeros((body.n_columns, 1))
        weights[name][body.columns[POCKET]] = body.areas[POCKET].sum() / area
    law = PocketLaw(area, shape.volume)
    return Interface(POCKET, law, weights, np.zeros(1), np.array([shape.sealed_area / area]))
