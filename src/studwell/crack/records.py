"""What is known of one crack in one body: its place, its sizes, its stress intensity in every state of a history."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from studwell.parts.crack_size import intensity_between

Array = np.ndarray


@dataclass(frozen=True)
class CrackLine:
    """The straight line along which a ring crack grows from a body's surface, all round.

    place     : where it starts, in plain words, such as "boss fillet" or "stud thread root 1"
    body      : the body that it is in
    mouth     : (2,) mm, where it starts on the surface
    direction : (2,) unit vector into the body
    angle     : degrees from straight down (towards the underside) to straight out
    wall      : mm, how far the line runs before it leaves the body
    path      : name of the body's stress path along the same line, None without one
    """

    place: str
    body: str
    mouth: Array = field(repr=False)
    direction: Array = field(repr=False)
    angle: float
    wall: float
    path: str | None = None


@dataclass(frozen=True)
class CrackErrors:
    """How far the stress intensity may be trusted, each a share of it: the largest over the sizes.

    contours     : spread between the domain integrals of several contours
    displacement : difference between the domain integral and the opening of the faces next to the tip
    """

    contours: float
    displacement: float


@dataclass(frozen=True)
class KCurve:
    """Stress intensity of a ring crack over its size, in every state of a history.

    line      : CrackLine
    sizes     : (n,) mm, depth along the line, rising
    opening   : (states, n) MPa m^0.5, mode I, never below zero: faces that would overlap press on each other
    sliding   : (states, n) MPa m^0.5, mode II, signed
    closed    : (states, n) bool, faces touch somewhere
    stress    : (states, p) MPa, normal to the line before there is a crack, at `distance` (p,) mm from the mouth
    poisson   : of the material
    method    : plain words
    unknowns  : (n,) displacement unknowns of each size's mesh
    errors    : CrackErrors
    """

    line: CrackLine
    sizes: Array = field(repr=False)
    opening: Array = field(repr=False)
    sliding: Array = field(repr=False)
    closed: Array = field(repr=False)
    distance: Array = field(repr=False)
    stress: Array = field(repr=False)
    poisson: float
    method: str
    unknowns: Array = field(repr=False)
    errors: CrackErrors

    @property
    def unit(self) -> str:
        """Unit of the stress intensities."""
        return "MPa m^0.5"

    @property
    def effective(self) -> Array:
        """Stress intensity (states, n) of the energy released straight ahead, MPa m^0.5: sqrt(K_I^2 + K_II^2).

        Where faces touch they slide without friction: there it is an upper bound.
        """
        return np.hypot(self.opening, self.sliding)

    def at(self, size: float) -> Array:
        """Return the effective stress intensity (states,) at a size, mm, MPa m^0.5, by `parts.crack_size.intensity_between`.

        raises ValueError : a size outside those of the curve
        """
        if not self.sizes[0] <= size <= self.sizes[-1]:
            raise ValueError(
                f"the curve runs from {self.sizes[0]:.3g} to {self.sizes[-1]:.3g} mm, not to {size:.3g} mm"
            )
        return intensity_between(self.sizes, self.effective, size)[:, 0]
