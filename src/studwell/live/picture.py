"""The first principal stress of a whole section as a small palette PNG, made in milliseconds from a joint's state."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import scipy.sparse as sp
from PIL import Image

from studwell.fem.elasticity import element_nodal, first_principal
from studwell.fem.space import Space
from studwell.joint.bodies import SectionBody
from studwell.joint.build import BuiltJoint
from studwell.joint.condense import BodySpec
from studwell.joint.state import JointState, mode_amplitudes
from studwell.mesh.mesh import Mesh, chains_along
from studwell.show import theme
from studwell.show.section import triangles
from studwell.units import as_text

Array = np.ndarray

VIEWS = ("section", "hole")
"""The whole section, or the hole and what surrounds it."""

PIXELS = (300, 500)
"""Width and height into which a picture goes at least once; see `pixel_map`."""

MOST_PIXELS = 1600
"""Of width or height."""

LEVELS = 255
"""Colours; index 0 of the palette is outside, transparent."""

WIDE = 2.5
"""A section more slender than the frame is drawn up to so many times the frame's height, so that its width is used."""

Scale = tuple[float, float]


@dataclass(frozen=True)
class Picture:
    """One state's stress, both halves of the section about the stud's axis, bodies where they are drawn, not moved.

    png      : palette PNG, transparent outside the bodies
    extent   : (r0, r1, z0, z1) mm of its edges
    low, high : MPa at the ends of the colours; 0 is the middle one; beyond the ends the end's colour
    colours  : from low to 0 to high, as #rrggbb
    outlines : (part, ((r, z), ...)) mm, closed lines of both halves
    moment, when : which state, in a word and in plain words
    told     : what is to be seen, in words
    """

    png: bytes = field(repr=False)
    extent: tuple[float, float, float, float]
    low: float
    high: float
    colours: tuple[str, ...] = field(repr=False)
    outlines: tuple[tuple[str, tuple[tuple[float, float], ...]], ...] = field(repr=False)
    moment: str
    when: str
    told: str


@dataclass(frozen=True)
class NodalStress:
    """What makes a body's averaged nodal stress from its displacements and strain modes.

    displacement : (4 N, 2 N) MPa/mm sparse, rows 4 n + component at the reference modulus
    modes        : (4 N, k) MPa per unit amplitude, to take off
    """

    displacement: sp.csr_matrix = field(repr=False)
    modes: Array = field(repr=False)

    @property
    def bytes(self) -> int:
        """Memory that it takes."""
        matrix = self.displacement
        return int(matrix.data.nbytes + matrix.indices.nbytes + matrix.indptr.nbytes + self.modes.nbytes)


def nodal_stress_map(spec: BodySpec, space: Space) -> NodalStress:
    """Return what makes a body's nodal stress: the average over the elements that share a node of what each carries there."""
    elastic = spec.elastic
    elements, uses = space.elements, np.bincount(space.elements.ravel(), minlength=space.n_nodes)
    own = element_nodal(elastic @ space.strain_matrix) / uses[elements][:, :, None, None]
    rows = np.broadcast_to((4 * elements[:, :, None] + np.arange(4))[..., None], own.shape)
    columns = np.broadcast_to(space.element_unknowns[:, None, None, :], own.shape)
    matrix = sp.csr_matrix((own.ravel(), (rows.ravel(), columns.ravel())), shape=(4 * space.n_nodes, space.n_unknowns))
    matrix.eliminate_zeros()
    modes = np.zeros((4 * space.n_nodes, len(spec.modes)))
    for k, mode in enumerate(spec.modes):
        profile = mode.at_quadrature(space)
        if mode.region is not None:
            inside = np.zeros(len(elements), dtype=bool)
            inside[spec.mesh.elements_of(mode.region)] = True
            profile = profile * inside[:, None]
        stress = profile[..., None] * (elastic @ np.asarray(mode.components))
        at_nodes = element_nodal(stress) / uses[elements][:, :, None]
        for component in range(4):
            modes[component::4, k] = np.bincount(
                elements.ravel(), at_nodes[..., component].ravel(), minlength=space.n_nodes
            )
    return NodalStress(matrix, modes)


def nodal_stress(built: BuiltJoint, number: int, state: JointState, stress_map: NodalStress) -> Array:
    """Return a body's stress (N, 4) MPa, averaged at its nodes, in a state without inelastic strain.

    number : the body's place in the joint
    raises ValueError : the joint was built without whole fields
    """
    joint = built.joint
    response = joint.bodies[number]
    if response.displacement is None:
        raise ValueError(f"{response.name}: the joint was built without whole fields (fields=False)")
    ratio = float(state.heat.modulus_ratio[number])
    columns = joint.column_forces(number, state.forces, state.outside_load)
    amplitudes = mode_amplitudes(joint, number, state.heat, state.stretch)
    moved = response.displacement @ np.concatenate([columns / ratio, amplitudes])
    return (ratio * (stress_map.displacement @ moved - stress_map.modes @ amplitudes)).reshape(-1, 4)


@dataclass(frozen=True)
class PixelMap:
    """Which nodes make which pixel of the right half of a picture.

    weights : (inside, nodes of all bodies) sparse, of each pixel that lies in a body
    inside  : (height, width / 2) bool, rows from the top; extent as in Picture
    outlines : of the bodies in it
    """

    weights: sp.csr_matrix = field(repr=False)
    inside: Array = field(repr=False)
    extent: tuple[float, float, float, float]
    outlines: tuple[tuple[str, tuple[tuple[float, float], ...]], ...] = field(repr=False)

    @property
    def bytes(self) -> int:
        """Memory that it takes, about."""
        return int(20 * self.weights.nnz + self.inside.nbytes)


def pixel_map(
    bodies: Sequence[SectionBody], hole_depth: float, view: str = "section", pixels: tuple[int, int] = PIXELS
) -> PixelMap:
    """Return the pixels of a section.

    hole_depth : mm, of the boss
    view   : one of VIEWS;  pixels : width and height of the frame; the section fills it in one direction, and a slender one
             is drawn taller than the frame, up to WIDE times
    Between nodes stress is straight over four triangles' pairs an element, as the report's pictures draw it.
    """
    if view not in VIEWS:
        raise ValueError(f"view is {view!r}; allowed: {', '.join(VIEWS)}")
    if not all(16 <= count <= MOST_PIXELS for count in pixels):
        raise ValueError(f"pixels are {pixels}; allowed: 16 to {MOST_PIXELS} each way")
    meshes = [body.spec.mesh for body in bodies]
    low = min(float(mesh.nodes[:, 1].min()) for mesh in meshes)
    high = max(float(mesh.nodes[:, 1].max()) for mesh in meshes)
    wide = max(float(mesh.nodes[:, 0].max()) for mesh in meshes)
    if view == "hole":
        high = min(high, 1.25 * hole_depth)
    width, height = pixels
    across, up = 2.0 * wide / width, (high - low) / height
    size = max(across, up / WIDE, (high - low) / MOST_PIXELS)
    half, tall = int(np.ceil(wide / size)), int(np.ceil((high - low) / size))
    top = low + tall * size
    owner = np.full((tall, half), -1, dtype=np.int64)
    shares = np.zeros((tall, half, 3))
    corners = []
    first = start = 0
    for mesh in meshes:
        three = triangles(mesh)
        _fill(owner, shares, mesh.nodes, three, first, size, top)
        corners.append(start + three)
        first, start = first + len(three), start + mesh.n_nodes
    inside = owner >= 0
    nodes = np.concatenate(corners)[owner[inside]]
    count = len(nodes)
    weights = sp.csr_matrix(
        (shares[inside].ravel(), (np.repeat(np.arange(count), 3), nodes.ravel())), shape=(count, start)
    )
    extent = (-half * size, half * size, low, top)
    outlines = tuple(
        (body.spec.name, line)
        for body in bodies
        for line in outlines_of(body.spec.mesh)
        if min(z for _, z in line) < top
    )
    return PixelMap(weights, inside, extent, outlines)


def _fill(owner: Array, shares: Array, nodes: Array, three: Array, first: int, size: float, top: float) -> None:
    """Write the triangles (T, 3) of one body into the pixels whose centres they hold; later ones overwrite."""
    tall, half = owner.shape
    points = nodes[three]
    x, y = points[..., 0] / size - 0.5, (top - points[..., 1]) / size - 0.5
    left, right = np.ceil(x.min(axis=1) - 1e-9), np.floor(x.max(axis=1) + 1e-9)
    upper, lower = np.ceil(y.min(axis=1) - 1e-9), np.floor(y.max(axis=1) + 1e-9)
    left, right = np.maximum(left, 0).astype(int), np.minimum(right, half - 1).astype(int)
    upper, lower = np.maximum(upper, 0).astype(int), np.minimum(lower, tall - 1).astype(int)
    columns, rows = np.maximum(right - left + 1, 0), np.maximum(lower - upper + 1, 0)
    counts = columns * rows
    which = np.repeat(np.arange(len(three)), counts)
    if not len(which):
        return
    place = np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts)
    px, py = left[which] + place % columns[which], upper[which] + place // columns[which]
    ax, ay, bx, by, cx, cy = (a[which, k] for k in range(3) for a in (x, y))
    area = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay)
    area = np.where(np.abs(area) < 1e-12, np.nan, area)
    second = ((px - ax) * (cy - ay) - (cx - ax) * (py - ay)) / area
    third = ((bx - ax) * (py - ay) - (px - ax) * (by - ay)) / area
    all_three = np.column_stack([1.0 - second - third, second, third])
    held = all_three.min(axis=1) >= -1e-9  # false for triangles without area
    owner[py[held], px[held]] = first + which[held]
    shares[py[held], px[held]] = all_three[held]


def outlines_of(mesh: Mesh) -> list[tuple[tuple[float, float], ...]]:
    """Return the closed outlines of both halves of a body, mm: one line where it reaches the axis, else one a side."""
    ends = mesh.nodes[mesh.facet_nodes[mesh.outer][:, :2], 0]
    facets = mesh.outer[ends.max(axis=1) > 1e-9]
    lines = []
    for chain, passed in chains_along(mesh, facets):
        middles = mesh.facet_nodes[chain, 2]
        order = np.empty(len(passed) + len(middles), dtype=np.int64)
        order[0::2], order[1::2] = passed, middles
        points = _bends(mesh.nodes[order])
        mirrored = points[::-1] * [-1.0, 1.0]
        if passed[0] == passed[-1]:
            lines += [points, mirrored]
        else:
            closed = np.concatenate([points, mirrored])
            lines.append(np.concatenate([closed, closed[:1]]))
    return [tuple((round(float(r), 4), round(float(z), 4)) for r, z in line) for line in lines]


def _bends(points: Array) -> Array:
    """Leave out the points at which a line does not bend."""
    before, after = points[1:-1] - points[:-2], points[2:] - points[1:-1]
    turn = np.abs(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0])
    length = np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1)
    return points[np.concatenate([[True], turn > 1e-6 * np.maximum(length, 1e-12), [True]])]


PALETTE = np.concatenate([np.zeros((1, 3)), np.asarray(theme.COOL_TO_WARM(np.linspace(0.0, 1.0, LEVELS)))[:, :3]])
SHOWN_COLOURS = tuple(
    "#{:02x}{:02x}{:02x}".format(*np.rint(255 * PALETTE[1 + k]).astype(int))
    for k in range(0, LEVELS, 2 * (LEVELS // 32))
)
_BYTES = np.rint(255.0 * PALETTE).astype(np.uint8).tobytes()


def colour_scale(values: Array) -> Scale:
    """Return the ends (MPa) of the colours for first principal stresses: round figures, a few values in a thousand beyond."""
    low, high = np.quantile(values, [0.003, 0.995])
    return -_round_up(max(-float(low), 1.0)), _round_up(max(float(high), 1.0))


def _round_up(value: float) -> float:
    power = 10.0 ** np.floor(np.log10(value))
    return float(
        power * next(step for step in (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0) if step >= value / power - 1e-9)
    )


def drawn(pixels: PixelMap, values: Array, scale: Scale) -> bytes:
    """Return the PNG of values (nodes of all bodies,) MPa on a scale (low, high), MPa."""
    low, high = scale
    at = pixels.weights @ values
    share = 0.5 + 0.5 * np.where(at < 0.0, at / abs(low), at / abs(high))
    index = 1 + np.clip(np.rint(share * (LEVELS - 1)), 0, LEVELS - 1)
    half = np.zeros(pixels.inside.shape, dtype=np.uint8)
    half[pixels.inside] = index
    image = Image.fromarray(np.concatenate([half[:, ::-1], half], axis=1), "P")
    image.putpalette(_BYTES)
    file = io.BytesIO()
    image.save(file, "PNG", transparency=0, compress_level=1)
    return file.getvalue()


def told_of(built: BuiltJoint, principal: Mapping[str, Array], corner: float | None, when: str, units: str) -> str:
    """Return what a stress picture shows, in words.

    principal : body -> first principal stress (N,) MPa;  corner : MPa averaged at the floor's corner, None if not known
    """
    parts = []
    for name, values in principal.items():
        if name in ("boss", "stud"):
            place = int(np.argmax(values))
            r, z = next(body.spec.mesh.nodes[place] for body in built.bodies if body.spec.name == name)
            where = ", ".join(as_text(float(x), "length", units, 3) for x in (r, z))
            parts.append(f"{name}: up to {as_text(float(values[place]), 'pressure', units, 3)} at r, z {where}")
    said = "; ".join(parts)
    at_corner = "" if corner is None else f" Averaged at the floor's corner: {as_text(corner, 'pressure', units, 3)}."
    return (
        f"First principal stress, tension positive, {when}. Largest at a node, where a sharp edge has no finite value: "
        f"{said}.{at_corner}"
    )


def all_principal(built: BuiltJoint, stresses: Mapping[str, Array]) -> dict[str, Array]:
    """Return the first principal stress (N,) MPa of every body from its nodal stress (N, 4), in the joint's order."""
    return {body.spec.name: first_principal(stresses[body.spec.name]) for body in built.bodies}
