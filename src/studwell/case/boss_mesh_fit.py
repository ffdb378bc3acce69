"""Does a boss mesh of the user's own agree with the case's dimensions, and do the parts that touch it meet its lines."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from studwell.case.boss_mesh import BossMesh
from studwell.case.overrides import Location, Origin
from studwell.case.records import Layer, PlainWasher, Setup, SpringWasher
from studwell.errors import BadCase
from studwell.parts.insert import insert_hole
from studwell.parts.thread import pitch_diameter
from studwell.units import as_text

Array = np.ndarray

AGREE = 0.05
"""mm by which a dimension of the case and of the mesh may differ: what a drawing's rounding explains. Our own choice."""

TIP_AGREE = 1e-3
"""mm by which the seat's outer radius may differ from the tip's, whose edge must be a line of both meshes."""

SNAP = 0.02
"""mm over which the edge of a gasket or layer is moved onto a line of the mouth."""

STRAIGHT = 1e-3
"""mm by which nodes may leave the line that the case gives them; they are moved onto it."""

UNITS = {"metres": 1000.0, "inches": 25.4, "centimetres": 10.0, "micrometres": 1e-3}

Refuse = Callable[[str, str], BadCase]


def fitted_to_mesh(setup: Setup, origin: Origin) -> Setup:
    """Return the setup with its own boss mesh straightened where it touches, and the edges on its mouth on its lines.

    setup          : Setup; returned as it is if the dimensions give the boss's mesh
    raises BadCase : the mesh and the case's dimensions disagree, or an edge on the mouth is no line of the mesh
    """
    own = setup.boss.own_mesh
    if own is None:
        return setup
    file = own.file

    def refuse(problem: str, allowed: str) -> BadCase:
        return origin.bad(("boss", "mesh"), problem, allowed, value=file, slug="cannot-fit", together=True)

    _outside(setup, own, refuse)
    moved = own.mesh.nodes.copy()
    _mouth(setup, own, moved, refuse)
    _thread(setup, own, moved, refuse)
    _seat(setup, own, moved, refuse)
    if (moved != own.mesh.nodes).any():
        own = replace(own, mesh=own.mesh.with_nodes(moved))
    return _on_lines(replace(setup, boss=replace(setup.boss, own_mesh=own)), own, origin)


def _mm(value: float) -> str:
    return as_text(value, "length", digits=5)


def _disagree(refuse: Refuse, what: str, key: str, theirs: float, ours: float, tolerance: float) -> None:
    if abs(theirs - ours) > tolerance:
        raise refuse(
            f"{what} is {_mm(theirs)} in the mesh and {_mm(ours)} by {key}",
            f"a difference of at most {_mm(tolerance)}",
        )


def _nodes(own: BossMesh, name: str) -> Array:
    """Node numbers along a boundary."""
    return np.unique(own.mesh.facet_nodes[own.mesh.facets_of(name)])


def _outside(setup: Setup, own: BossMesh, refuse: Refuse) -> None:
    boss = setup.boss
    theirs, ours = float(own.mesh.nodes[:, 0].max()), 0.5 * boss.outer_diameter
    for unit, factor in UNITS.items():
        if abs(theirs * factor / ours - 1.0) < 0.05:
            raise refuse(
                f"its outer radius is {theirs:.4g} and the boss's {_mm(ours)}: the mesh seems to be in {unit}",
                "coordinates in mm",
            )
    _disagree(refuse, "the outer radius", "half of outer_diameter", theirs, ours, AGREE)
    under = own.mesh.nodes[_nodes(own, "underside")]
    below = -float(under[np.argmin(under[:, 0]), 1])
    _disagree(refuse, "the floor's thickness", "floor_thickness", below - boss.cone_depth, boss.floor_thickness, AGREE)


def _mouth(setup: Setup, own: BossMesh, moved: Array, refuse: Refuse) -> None:
    nodes = _nodes(own, "mouth")
    heights = own.mesh.nodes[nodes, 1]
    height = float(np.median(heights))
    _disagree(refuse, "the mouth's height above the end of the full hole", "hole_depth", height,
              setup.boss.hole_depth, AGREE)  # fmt: skip
    if np.abs(heights - height).max() > STRAIGHT:
        raise refuse(
            f'boundary "mouth" is no plane: its heights differ by {_mm(float(np.ptp(heights)))}',
            f"one height, to {_mm(STRAIGHT)}",
        )
    moved[nodes, 1] = height
    _one_line(own, "mouth", moved, refuse)


def _thread(setup: Setup, own: BossMesh, moved: Array, refuse: Refuse) -> None:
    stud, insert = setup.stud, setup.boss.insert
    nodes = _nodes(own, "thread")
    radii = own.mesh.nodes[nodes, 0]
    radius = float(np.median(radii))
    sizes = stud.thread.nominal_diameter, stud.thread.pitch
    pitch, what = 0.5 * float(pitch_diameter(*sizes)), f"the pitch diameter of {stud.thread.name}"
    if insert is not None:
        pitch, what = 0.5 * float(insert_hole(*sizes).pitch_diameter), f"{what}'s hole for an insert"
    _disagree(refuse, "the thread's radius", what, radius, pitch, AGREE)
    if np.abs(radii - radius).max() > STRAIGHT:
        raise refuse(
            f'boundary "thread" is no cylinder: its radii differ by {_mm(float(np.ptp(radii)))}',
            f"one radius, to {_mm(STRAIGHT)}",
        )
    low = stud.tip_length - setup.boss.depth_on_cone(float(own.seat_lines[0]))  # the tip's lowest point, on its land
    lines = own.thread_lines
    if insert is None:
        _disagree(refuse, "the lower end of the engaged thread", "tip_length", float(lines[0]), low, AGREE)
        _disagree(refuse, "the upper end of the engaged thread", "tip_length and engaged_length", float(lines[-1]),
                  low + stud.engaged_length, AGREE)  # fmt: skip
    else:
        top = setup.boss.hole_depth - insert.set_down
        _disagree(refuse, "the lower end of the insert's thread", "its length and set_down", float(lines[0]),
                  top - insert.assembled, AGREE)  # fmt: skip
        _disagree(refuse, "the upper end of the insert's thread", "its set_down", float(lines[-1]), top, AGREE)
    moved[nodes, 0] = radius
    _one_line(own, "thread", moved, refuse)


def _seat(setup: Setup, own: BossMesh, moved: Array, refuse: Refuse) -> None:
    boss, lines = setup.boss, own.seat_lines
    _disagree(refuse, "the seat's outer radius", "half of tip_diameter", float(lines[-1]),
              0.5 * setup.stud.tip_diameter, TIP_AGREE)  # fmt: skip
    nodes = _nodes(own, "seat")
    radii, heights = own.mesh.nodes[nodes].T
    floor = np.array([-boss.depth_on_cone(float(r)) for r in radii])
    above = float(np.median(heights - floor))
    shape = "the drill cone" if boss.cone_depth else "a flat floor"
    if abs(above) > AGREE:
        raise refuse(
            f"the seat lies {_mm(abs(above))} {'above' if above > 0 else 'below'} {shape} that ends at z = 0",
            f"a difference of at most {_mm(AGREE)}",
        )
    if np.abs(heights - floor - above).max() > STRAIGHT:
        raise refuse(
            f'boundary "seat" leaves {shape} by {_mm(float(np.abs(heights - floor - above).max()))}',
            f"at most {_mm(STRAIGHT)}",
        )
    moved[nodes, 1] = floor + above
    _one_line(own, "seat", moved, refuse)


def _one_line(own: BossMesh, name: str, moved: Array, refuse: Refuse) -> None:
    """Put the middle nodes of a boundary into the middle of their edges; it must be one line."""
    mesh = own.mesh
    if mesh.n_chains(name) != 1:
        raise refuse(f'boundary "{name}" is in {mesh.n_chains(name)} pieces', "one line of edges")
    edges = mesh.facet_nodes[mesh.facets_of(name)]
    middle = 0.5 * (moved[edges[:, 0]] + moved[edges[:, 1]])
    off = float(np.abs(moved[edges[:, 2]] - middle).max())
    if off > STRAIGHT:
        raise refuse(
            f'a middle node of boundary "{name}" lies {_mm(off)} off the middle of its edge',
            "straight edges with their middle nodes in the middle",
        )
    moved[edges[:, 2]] = middle


def _on_lines(setup: Setup, own: BossMesh, origin: Origin) -> Setup:
    """Move the edges of the ring that loads the mouth onto lines of the mesh, if they are near enough."""
    lines = own.mouth_lines
    inner, outer = float(lines[0]), float(lines[-1])
    at_inner = at_outer = ""
    places: dict[str, Location] = {}
    solid = False
    items: list[tuple[Location, Layer | PlainWasher | SpringWasher]] = [
        *[(("stack", number), layer) for number, layer in enumerate(setup.stack)],
        *[(("washer", number), washer) for number, washer in enumerate(setup.washers)],
    ]
    for at, item in items:
        name = f'layer "{item.name}"' if isinstance(item, Layer) else "the lowest washer"
        places[name] = at
        if 0.5 * item.inner_diameter > inner:
            inner, at_inner = 0.5 * item.inner_diameter, name
        if 0.5 * item.outer_diameter < outer:
            outer, at_outer = 0.5 * item.outer_diameter, name
        if item.material is not None:
            solid = True
            break
    if not solid:
        raise origin.bad(
            ("stack",),
            "a nut on a gasket alone is not solved by this version on a boss mesh of your own",
            "a layer or washer of metal under the nut",
            slug="not-solved-here",
            together=True,
        )
    for radius, name, key in ((inner, at_inner, "inner_diameter"), (outer, at_outer, "outer_diameter")):
        nearest = float(lines[np.argmin(np.abs(lines - radius))])
        if abs(nearest - radius) > SNAP:
            beside = " and ".join(_mm(float(line)) for line in sorted(lines[np.argsort(np.abs(lines - radius))[:2]]))
            raise origin.bad(
                (*places[name], key),
                f"{name} ends {_mm(radius)} from the axis on the boss's mouth, where {own.file} has no line (nearest: "
                f"{beside})",
                f"a mesh with a line of the mouth at a radius of {_mm(radius)}",
                value=origin.given((*places[name], key)),
                slug="cannot-fit",
                together=True,
            )
        setup = _with_radius(setup, radius, nearest)
    return setup


def _with_radius(setup: Setup, radius: float, line: float) -> Setup:
    """Return a setup in which every edge of a layer or plain washer within SNAP of a radius is at the line."""

    def moved(diameter: float) -> float:
        return 2.0 * line if abs(0.5 * diameter - radius) <= SNAP else diameter

    layers = [
        replace(layer, inner_diameter=moved(layer.inner_diameter), outer_diameter=moved(layer.outer_diameter))
        for layer in setup.stack
    ]
    washers = [
        replace(washer, inner_diameter=moved(washer.inner_diameter), outer_diameter=moved(washer.outer_diameter))
        if isinstance(washer, PlainWasher)
        else washer
        for washer in setup.washers
    ]
    return replace(setup, stack=tuple(layers), washers=tuple(washers))
