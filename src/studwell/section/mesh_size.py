"""How large the meshes of a section will be, told before they are made: what would not fit into memory is refused."""

from __future__ import annotations

from studwell.case.records import Setup
from studwell.errors import BadMesh
from studwell.section.boss import boss_elements
from studwell.section.layout import Layout
from studwell.section.ring import ring_heights

MOST_UNKNOWNS = 800_000
"""Displacement unknowns of one body, at most: what its factor and its fields take is then a few gigabytes. Our own choice."""

UNKNOWNS_AN_ELEMENT = 8
"""Of a grid of elements with nine nodes: four nodes an element, two unknowns a node."""


def check_sizes(setup: Setup, layout: Layout) -> None:
    """Raise BadMesh, naming the keys, if the mesh of a body would have more than MOST_UNKNOWNS; a mesh of the user's own is
    taken as it is."""
    boss = setup.boss
    if layout.own_boss is None:
        keys = (
            f"[boss] outer_diameter = {boss.outer_diameter:g} mm, floor_thickness = {boss.floor_thickness:g} mm, "
            f"hole_depth = {boss.hole_depth:g} mm"
        )
        _check("boss", boss_elements(layout.boss), keys, layout.size)
    stud = layout.stud
    rows = (layout.stud_top - layout.tip_z) / (0.9 * stud.size)
    _check("stud", int(len(stud.tip_lines) * rows), f"[stud] length = {setup.stud.length:g} mm", layout.size)
    for ring in layout.rings:
        elements = len(ring.radii) * len(ring_heights(ring.bottom, ring.top, layout.size))
        keys = (
            f"its thickness of {ring.top - ring.bottom:g} mm, outer_diameter = {2 * ring.outer_radius:g} mm and inner_diameter "
            f"= {2 * ring.inner_radius:g} mm"
        )
        _check(ring.name, elements, keys, layout.size)


def _check(body: str, elements: int, keys: str, size: float) -> None:
    unknowns = UNKNOWNS_AN_ELEMENT * elements
    if unknowns > MOST_UNKNOWNS:
        raise BadMesh(
            f"{body}: a mesh of about {unknowns:.2g} unknowns, more than the {MOST_UNKNOWNS} that are allowed: {keys}, in "
            f"elements of {size:.2g} mm; make it smaller (what is far from the stud changes little), or take a coarser mesh "
            "(--refinement)"
        )
