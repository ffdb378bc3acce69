"""Check of a deep ring crack under a hole: which way it is pulled most, by the energy of the whole body as another route."""

from __future__ import annotations

from dataclasses import replace
from math import pi, radians, sin, sqrt

import numpy as np

from studwell.case import case_from_text, starter_case
from studwell.crack.lines import line_along
from studwell.crack.records import CrackLine
from studwell.crack.stress import across, line_distances
from studwell.crack.submodel import crack_weights, on_faces
from studwell.fem.solve import Elastic, ElasticField, solve_elastic
from studwell.joint.bodies import section_bodies
from studwell.joint.condense import BodySpec
from studwell.mesh.mesh import Floats, Mesh
from studwell.mesh.outline import outline_of
from studwell.mesh.ring_crack import cracked_mesh
from studwell.section.layout import lay_out
from studwell.verify.registry import Row, check, relative

MODULUS, FLOOR, WEDGE = 71_000.0, 5.0, 12_000.0
"""MPa, mm, N: a thin floor under an M10 stud that was driven hard."""

STEP = 0.08
"""mm by which a crack is made shorter and longer to see what energy it releases."""


def _boss() -> BodySpec:
    setup = next(
        each for each in case_from_text(starter_case("M10"), "starter case").setups if each.seating.mode == "bottomed"
    )
    setup = replace(setup, boss=replace(setup.boss, floor_thickness=FLOOR), history=replace(setup.history, steps=1))
    return section_bodies(setup, lay_out(setup, 0.7), setup.history.node_names)[0].spec


def _area(mesh: Mesh, name: str) -> float:
    """Area of revolution of a boundary, mm2, by the places of its ends; Simpson over a curved edge."""
    start, end, middle = (mesh.nodes[nodes] for nodes in mesh.facet_nodes[mesh.facets_of(name)].T)
    length = np.linalg.norm(end - start, axis=1)
    return float(np.sum(2.0 * pi * length * (start[:, 0] + 4.0 * middle[:, 0] + end[:, 0]) / 6.0))


def _solved(mesh: Mesh, poisson: float) -> tuple[ElasticField, Floats]:
    """A body with the wedge on its seat, borne by its thread, and the load, N, at its unknowns."""
    pressure, pull = WEDGE / _area(mesh, "seat"), WEDGE / _area(mesh, "thread")
    metal = Elastic(MODULUS, poisson)
    field = solve_elastic(
        mesh,
        dict.fromkeys(mesh.regions, metal),
        pressures={"seat": pressure},
        tractions={"thread": (0.0, pull)},
        free_axially=True,
    )
    pushed = field.space.traction_load("thread", "z", pull) - field.space.traction_load("seat", "normal", pressure)
    return field, np.asarray(pushed)


def _energy(spec: BodySpec, line: CrackLine, size: float) -> float:
    """Strain energy, N mm, of the whole cracked body under its own loads: half the work of these."""
    crack = cracked_mesh(outline_of(spec.mesh), line.mouth, line.direction, size, fineness=0.7)
    field, load = _solved(crack.mesh, spec.poisson)
    return 0.5 * float(load @ field.displacement.ravel())


def _from_energy(spec: BodySpec, line: CrackLine, size: float) -> float:
    """Stress intensity, MPa m^0.5, of the energy that a slightly longer crack releases at the same loads (Irwin 1957)."""
    lean, radius = sin(radians(line.angle)), float(line.mouth[0])
    start, end = size - STEP, size + STEP
    ring = pi * (2.0 * radius + (start + end) * lean) * (end - start)
    released = (_energy(spec, line, end) - _energy(spec, line, start)) / ring
    return sqrt(released * MODULUS / (1.0 - spec.poisson**2) / 1000.0)


def _by_superposition(spec: BodySpec, line: CrackLine, size: float) -> float:
    """Stress intensity, MPa m^0.5, as the package finds it: the sound body's stress on the faces of the crack alone."""
    sound, _ = _solved(spec.mesh, spec.poisson)
    distance = line_distances(size)
    stress: Floats = sound.at(line.mouth + distance[:, None] * line.direction)
    weights = crack_weights(spec, outline_of(spec.mesh), line, size)
    pressures, shears = (on_faces(weights, distance, part[None]) for part in across(stress, line))
    return float(np.hypot(*weights.of(pressures, shears)[0][0]))


@check(
    "crack-direction",
    subject="fracture",
    title="Ring cracks 1 and 4 mm deep in a 5 mm floor, steep and slanted: pulled by a wedge of 12 kN",
    source="Irwin 1957: energy released by the whole body under its own loads, from solves that know no stress intensity",
    status="computed",
    tolerance="1 %; the steep one is pulled less at 1 mm and more at 4 mm",
    slow=True,
)
def direction_of_a_deep_crack() -> list[Row]:
    """Compare superposition with released energy on two lines at two depths, and what is said of the direction."""
    spec = _boss()
    outline = outline_of(spec.mesh)
    rows: list[Row] = []
    ratios = {}
    for size in (1.0, 4.0):
        found = []
        for angle in (10, 60):
            name = f"floor path {angle}"
            line = line_along(outline, spec.name, name, spec.stress_points[name])
            own, other = _by_superposition(spec, line, size), _from_energy(spec, line, size)
            rows.append(relative(f"{size:g} mm at {angle} degrees", other, own, 0.01, "MPa m^0.5"))
            found.append((own, other))
        ratios[size] = [steep / slanted for steep, slanted in zip(*found, strict=True)]
    for size, (own, other) in ratios.items():
        rows.append(relative(f"{size:g} mm, steep over slanted", other, own, 0.01, "1"))
    turned = [ratios[1.0][k] < 1.0 < ratios[4.0][k] for k in (0, 1)]
    rows.append(Row("the steep one is pulled less at 1 mm, more at 4 mm", 1.0, float(all(turned)), 0.0, "1"))
    return rows
