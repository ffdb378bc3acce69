"""Thread teeth as rings of zero helix: the profile of engaged whole threads, row by row.

Along a thread the offset x counts pitches from the middle of the stud's first tooth towards the end that carries
most: the teeth of the stud stand at whole numbers, those of its partner half way between. A band of n threads runs
from x = -1/4 to n - 1/4; a free groove goes on half a pitch beyond at the end where a carrying tooth would lean on a
smooth wall and seem stiffer than it is. Bands end on the pitch line, where they join a smooth wall at the pitch radius.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studwell.mesh.blocks import with_middles
from studwell.section.lines import Array

CREST = 1.0 / 16.0
"""Half the width of the external crest, pitches: ISO 68-1 basic profile."""

FLANK_END = 3.0 / 8.0
"""Where the common flank ends, pitches from the middle of the tooth: at the internal crest, D1."""

COTANGENT = float(np.sqrt(3.0))
"""Of the flank angle of 30 degrees: radial over axial travel along a flank."""

HEIGHT = float(np.sqrt(3.0) / 2.0)
"""H / P, height of the fundamental triangle."""

ARC_ELEMENTS = {"external": 6, "internal": 4}
"""Elements round a root at the coarsest grooves."""


@dataclass(frozen=True)
class Teeth:
    """A band of whole engaged threads.

    nominal_diameter, pitch : mm, of the thread
    bottom     : z of the lower end of the band, mm; it is `count` pitches long
    count      : whole threads that carry
    loaded     : +1 if the upper flanks of the external teeth carry (a stud pulled out of a boss), -1 if the lower
                 ones do (a stud pulled out of a nut)
    clearance  : of the pitch diameters, mm: back flanks stand half of it apart, and flanks touch only up to
                 (d - clearance) / 2
    divisions  : elements to a sixteenth of a pitch along the flanks
    external_lead : whether the stud has a free groove beyond its first tooth; its partner has one beyond its last tooth

    Source: ISO 68-1 basic profile; external root radius H/6 (its sharp-root tangent point is the end of the flank),
    internal root radius H/12 (tangent where the external crest ends; the standard leaves it free).
    """

    nominal_diameter: float
    pitch: float
    bottom: float
    count: int
    loaded: int
    clearance: float = 0.0
    divisions: int = 1
    external_lead: bool = True

    @property
    def top(self) -> float:
        """z of the upper end of the band, mm."""
        return self.bottom + self.count * self.pitch

    @property
    def pitch_radius(self) -> float:
        """mm."""
        return 0.5 * self.nominal_diameter - 0.375 * HEIGHT * self.pitch

    @property
    def root_radius(self) -> float:
        """Radius of the external thread's root, d3 / 2, mm."""
        return 0.5 * self.nominal_diameter - 17.0 / 24.0 * HEIGHT * self.pitch

    @property
    def flank_edges(self) -> int:
        """Edges of one carrying flank."""
        return 5 * self.divisions

    def offset(self, z: Array) -> Array:
        """Return the offset x, pitches, at heights z, mm."""
        away = np.asarray(z) - self.bottom if self.loaded > 0 else self.top - np.asarray(z)
        return away / self.pitch - 0.25

    def height(self, offset: Array) -> Array:
        """Return z, mm, at offsets x, pitches."""
        along = (np.asarray(offset) + 0.25) * self.pitch
        return self.bottom + along if self.loaded > 0 else self.top - along

    def external_radius(self, z: Array, flat_root: bool = False) -> Array:
        """Return the radius of the external thread at heights z, mm; flat_root: its root cut off at D1 / 2."""
        u = _from_tooth(self.offset(z))
        outer = 0.5 * self.nominal_diameter
        flank = outer - (u - CREST) * self.pitch * COTANGENT
        if flat_root:
            return np.where(u <= CREST, outer, np.maximum(flank, outer - 0.625 * HEIGHT * self.pitch))
        radius = HEIGHT / 6.0 * self.pitch
        beside = np.clip((0.5 - u) * self.pitch, 0.0, radius)
        root = outer - 13.0 / 24.0 * HEIGHT * self.pitch - np.sqrt(radius**2 - beside**2)
        return np.where(u <= CREST, outer, np.where(u <= FLANK_END + 1e-12, flank, root))

    def internal_radius(self, z: Array, flat_root: bool = False) -> Array:
        """Return the radius of the internal thread at heights z, mm; flat_root: its root cut off at d / 2."""
        u = _from_tooth(self.offset(z))
        outer = 0.5 * self.nominal_diameter
        inner = outer - 0.625 * HEIGHT * self.pitch
        flank = np.maximum(outer - (u - CREST) * self.pitch * COTANGENT, inner)
        if flat_root:
            return np.where(u <= CREST, outer, flank)
        radius = HEIGHT / 12.0 * self.pitch
        beside = np.clip(u * self.pitch, 0.0, radius)
        root = outer - HEIGHT / 24.0 * self.pitch + np.sqrt(radius**2 - beside**2)
        return np.where(u < CREST - 1e-12, root, flank)

    def span(self, kind: str) -> tuple[float, float]:
        """Return z of both ends, mm, of the toothed part of a body: "external" or "internal"."""
        ends = self.height(np.array(self._offsets(kind)))
        return float(ends.min()), float(ends.max())

    def within(self, z: Array, kind: str) -> Array:
        """True at heights z, mm, within the toothed part of a body."""
        low, high = self.span(kind)
        return (np.asarray(z) > low - 1e-9) & (np.asarray(z) < high + 1e-9)

    def rows(self, kind: str) -> Array:
        """Return z of all node rows of a toothed part, (2 n + 1,) rising, mm: every second one is a mesh line.

        kind : "external", "internal" (rows close round their rounded roots) or "flat" (even sixteenths of a pitch
               over the band alone)
        """
        first, last = self._offsets(kind)
        radius, half = (HEIGHT / 6.0, 0.125) if kind == "external" else (HEIGHT / 12.0, CREST)
        centres = np.arange(np.ceil(first - 0.5), last) + 0.5 if kind == "external" else np.arange(np.ceil(first), last)
        pieces, at = [np.array([first])], first
        for centre in centres if kind != "flat" else ():
            pieces += [self._even(at, centre - half)[1:], self._round_root(centre, radius, kind)[1:]]
            at = centre + half
        pieces.append(self._even(at, last)[1:])
        heights = self.height(np.concatenate(pieces))
        return heights if self.loaded > 0 else heights[::-1]

    def _offsets(self, kind: str) -> tuple[float, float]:
        first, last = -0.25, self.count - 0.25
        if kind == "external" and self.external_lead:
            first -= 0.5
        if kind == "internal":
            last += 0.5
        return first, last

    def _even(self, start: float, end: float) -> Array:
        """Offsets of node rows in sixteenths of a pitch; one of them moves to where the flanks stop touching."""
        edges = round(16 * self.divisions * (end - start))
        lines = np.linspace(start, end, edges + 1)
        touching = CREST + 0.5 * self.clearance / (self.pitch * COTANGENT)
        if 1.1 * CREST < touching < 2.9 * CREST:
            tooth = np.round(lines)
            moved = np.interp(
                np.abs(lines - tooth), [0.0, CREST, 2 * CREST, 3 * CREST, 0.5], [0.0, CREST, touching, 3 * CREST, 0.5]
            )
            lines = tooth + np.sign(lines - tooth) * moved
        return with_middles(lines)

    def _round_root(self, centre: float, radius: float, kind: str) -> Array:
        """Offsets of node rows round a root of 120 degrees, radius in pitches."""
        angles = np.radians(np.linspace(-60.0, 60.0, 2 * ARC_ELEMENTS[kind] * self.divisions + 1))
        return centre + radius * np.sin(angles)

    def on_flank(self, r: Array, z: Array) -> Array:
        """True where (r, z), mm, lies on a flank that carries and touches."""
        offset = self.offset(z)
        tooth = np.round(offset)
        own = (tooth >= 0) & (tooth < self.count) & (offset > tooth)
        return own & self._between(r, offset - tooth)

    def on_back(self, r: Array, z: Array) -> Array:
        """True where (r, z), mm, lies on a flank behind a tooth that both bodies have whole."""
        offset = self.offset(z)
        tooth = np.round(offset)
        own = (tooth >= 1) & (tooth < self.count) & (offset < tooth)
        return own & self._between(r, tooth - offset)

    def layered(self, shares: Array, wall: Array, inside: Array, depth: float) -> Array:
        """Return radii (columns, rows) of node columns from the metal's `inside` (rows,) to its toothed wall (rows,), mm.

        shares : (columns,) from 0 inside to 1 at the wall. Under a root the columns that would on average lie within `depth`
                 of the wall do so evenly, so that a layer of this depth is made of whole elements; on the pitch line all
                 columns are at their shares.
        """
        plain = inside[None, :] + shares[:, None] * (wall - inside)[None, :]
        under = np.sign(inside - wall) * (wall - self.pitch_radius)
        span = float(np.mean(np.abs(wall - inside)))
        lines = shares[::2][(shares[::2] > 1e-9) & (shares[::2] < 1.0 - 1e-9)]
        if not len(lines):
            return plain
        knee = lines[int(np.argmin(np.abs((1.0 - lines) * span - depth)))]
        step = depth * np.sign(wall - inside)
        core = inside[None, :] + (shares / knee)[:, None] * (wall - step - inside)[None, :]
        layer = wall[None, :] - step[None, :] * ((1.0 - shares) / (1.0 - knee))[:, None]
        whole = np.where(shares[:, None] <= knee, core, layer)
        whole_root = np.where(wall < inside, 0.375, 0.25) * HEIGHT * self.pitch
        share = np.clip(under / whole_root, 0.0, 1.0)
        return (1.0 - share) * plain + share * whole

    def root_at(self, r: Array, z: Array, kind: str, depth: float) -> Array:
        """Return which root (-1 for none) a point in the metal lies under, not deeper than `depth` along r, mm.

        Root k of the external thread lies beyond its tooth k, root k of the internal one opposite that tooth.
        """
        offset = self.offset(z)
        if kind == "external":
            number, half = np.floor(offset), 0.5 - FLANK_END
            inside = np.abs(offset - number - 0.5) < half
            below = self.external_radius(z) - np.asarray(r)
        else:
            number = np.round(offset)
            inside = np.abs(offset - number) < CREST
            below = np.asarray(r) - self.internal_radius(z)
        inside = inside & (below > 0.0) & (below < depth) & (number >= 0) & (number < self.count)
        return np.where(inside, number, -1).astype(int)

    def _between(self, r: Array, u: Array) -> Array:
        r = np.asarray(r)
        line = 0.5 * self.nominal_diameter - (u - CREST) * self.pitch * COTANGENT
        touching = r < 0.5 * (self.nominal_diameter - self.clearance)
        return (u > CREST) & (u < FLANK_END) & (np.abs(r - line) < 1e-6) & touching


def whole_threads(length: float, pitch: float) -> int:
    """Return how many whole threads fit an engaged length, mm."""
    return int(np.floor(length / pitch + 1e-9))


def _from_tooth(offset: Array) -> Array:
    return np.abs(offset - np.round(offset))
