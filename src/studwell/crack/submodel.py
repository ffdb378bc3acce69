"""One crack of one size in one body: the body's whole section meshed anew round the tip, solved once for every load.

A crack's faces are free of the stress that the sound body carries across them. By superposition the cracked body is the
sound one plus the same body under that stress, reversed, on the crack's faces and nothing else anywhere; so the
intensity of any state of the joint is a sum over the stress along the line. The section is kept whole, coarse far from the
tip: no cut surface to hold or to load, and nothing that depends on where one would cut. What the rest of the joint
presses on the body is taken to stay as it is without the crack.
"""

from __future__ import annotations

import hashlib
from collections.abc import MutableMapping

import numpy as np

from studwell.crack.records import Array, CrackLine
from studwell.errors import BadMesh
from studwell.fem.cracked_body import CrackedBody, CrackWeights
from studwell.joint.condense import BodySpec
from studwell.mesh.outline import Outline, simplified
from studwell.mesh.ring_crack import cracked_mesh

WeightCache = MutableMapping[str, CrackWeights]

RETRIES = (1.0, 0.9, 0.75, 0.6)
"""Sizes of the mesh, over the wanted ones, tried in turn where features lie too close together for a mesh."""

NEAR = 1.5
"""The outline is kept as it is within this many crack sizes of the tip, and within KEPT mm."""

KEPT = 1.0
FAR_SHARE = 0.07
"""Beyond, it may be straightened by this share of the distance: a thread far away becomes a smooth wall."""

UNIT_MODULUS = 1000.0
"""MPa. Stress intensity under given loads does not depend on the modulus of a body of one material."""


def crack_weights(
    spec: BodySpec,
    outline: Outline,
    line: CrackLine,
    size: float,
    cache: WeightCache | None = None,
    fineness: float = 1.0,
    far_share: float = FAR_SHARE,
) -> CrackWeights:
    """Return what loads on the faces of a crack of one size do.

    spec     : the body; outline: of its section
    size     : mm, within the wall
    cache    : weights by the hash of what they depend on: outline, Poisson's ratio, line, size
    fineness : multiplies the element sizes outside the rings round the tip
    far_share : how much the outline far away may be straightened; 0: not at all
    raises BadMesh : no mesh found
    """
    key = _key(spec, outline, line, size, fineness, far_share)
    if cache is not None and key in cache:
        return cache[key]
    tip = line.mouth + size * line.direction
    coarse = simplified(outline, tip, max(NEAR * size, KEPT), far_share) if far_share else outline
    for attempt, section in [(a, coarse) for a in RETRIES] + [(a, outline) for a in RETRIES]:
        try:
            mesh = cracked_mesh(section, line.mouth, line.direction, size, fineness=attempt * fineness)
        except BadMesh as error:
            problem = error
            continue
        weights = CrackedBody(mesh, UNIT_MODULUS, spec.poisson).weights()
        if cache is not None:
            cache[key] = weights
        return weights
    raise problem


def _key(spec: BodySpec, outline: Outline, line: CrackLine, size: float, fineness: float, far: float) -> str:
    digest = hashlib.sha256(np.ascontiguousarray(outline.nodes).tobytes())
    numbers = [*line.mouth.tolist(), *line.direction.tolist(), size, spec.poisson, fineness, far]
    digest.update(repr([f"{number:.12g}" for number in numbers]).encode())
    return digest.hexdigest()


def on_faces(weights: CrackWeights, distance: Array, values: Array) -> Array:
    """Return values (states, p) at distances (p,) from the mouth, mm, carried to a crack's face nodes, (states, n)."""
    return np.stack([np.interp(weights.depths, distance, row) for row in values])
