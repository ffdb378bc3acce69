"""The record of a wire thread insert in the hole."""

from __future__ import annotations

from dataclasses import dataclass

from studwell.parts.material import Material


@dataclass(frozen=True)
class Insert:
    """A wire thread insert, mm.

    length        : nominal; assembled: as it stands in the hole; set_down: of its upper end below the mouth face
    material      : of its wire
    hole_friction : coefficient of the insert's outside in its hole, None if not known
    """

    length: float
    set_down: float
    assembled: float
    material: Material
    hole_friction: float | None

    def ends(self, hole_depth: float) -> tuple[float, float]:
        """Return z of its lower and upper end, mm, in a hole so deep to the mouth face."""
        top = hole_depth - self.set_down
        return top - self.assembled, top
