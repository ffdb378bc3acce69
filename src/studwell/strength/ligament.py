"""What a ring crack under the hole leaves whole: its mean shear by equilibrium, and the size at which it gives way."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from studwell.crack.records import CrackLine
from studwell.errors import BadMesh
from studwell.history.pocket import pressures
from studwell.joint.build import BuiltJoint
from studwell.mesh.outline import outline_of
from studwell.mesh.ring_crack import wall_along
from studwell.parts.floor import punch_shear
from studwell.strength.timeline import Timeline

Array = np.ndarray

PLACES = 33
"""Sizes at which the metal below the tip is measured."""


@dataclass(frozen=True)
class Ligament:
    """The metal straight down from a ring crack's tip, which carries what pushes the plug within it down.

    sizes, radii, heights : (n,) mm, of the crack, of its tip, and from there down to the underside
    force : (states,) N, of tip and liquid on the plug
    """

    sizes: Array = field(repr=False)
    radii: Array = field(repr=False)
    heights: Array = field(repr=False)
    force: Array = field(repr=False)

    def share(self, size: float, strength: Array) -> Array:
        """Return the mean shear (states,) over the shear strength (states,) MPa, below the tip of a crack of a size, mm."""
        radius, height = (float(np.interp(size, self.sizes, row)) for row in (self.radii, self.heights))
        return np.asarray(punch_shear(self.force, 2.0 * radius, height)) / strength

    def gives_way(self, strength: Array) -> float | None:
        """Return the size, mm, at which the worst share is 1; 0 where it is without a crack, None where it is nowhere."""
        worst = np.array([float(self.share(float(size), strength).max()) for size in self.sizes])
        if not np.any(worst >= 1.0):
            return None
        first = int(np.argmax(worst >= 1.0))
        if first == 0:
            return 0.0
        part = (1.0 / worst[first - 1] - 1.0) / (
            1.0 / worst[first - 1] - 1.0 / worst[first]
        )  # 1/share is all but straight
        return float(self.sizes[first - 1] + part * (self.sizes[first] - self.sizes[first - 1]))


def floor_ligament(built: BuiltJoint, timeline: Timeline, line: CrackLine) -> Ligament | None:
    """Return the ligament of a crack that starts at the floor's fillet; None where no underside lies below it.

    Nothing else pushes on the plug: the boss is held by its thread and mouth, above it. A liquid under the tip presses on
    all of the plug's face within the crack's mouth. Source: equilibrium.
    """
    outline = outline_of(built.bodies[built.joint.body_index(line.body)].spec.mesh)
    sizes = np.linspace(0.001, 0.999, PLACES) * line.wall
    tips = line.mouth + sizes[:, None] * line.direction
    try:
        heights = np.array([wall_along(outline, tip, np.array([0.0, -1.0])) for tip in tips])
    except BadMesh:
        return None
    radius = float(line.mouth[0])
    force = np.maximum(timeline.forces.tip, 0.0) + np.pi * radius**2 * pressures(built.joint, timeline.states)
    return Ligament(sizes, tips[:, 0], heights, force)
