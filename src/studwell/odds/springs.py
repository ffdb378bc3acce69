"""What each sample has of its own that bends its answer sharply: the law of its spring washers, the room in a domed nut."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from studwell.case.records import Setup, SpringWasher
from studwell.joint.build import BuiltJoint
from studwell.joint.interfaces import setting_spring_law, spring_law
from studwell.joint.laws import SettingCurveLaw
from studwell.parts.spring import flat_load, spring_force
from studwell.section.layout import Layout

Array = np.ndarray

THICKNESS, CONE, EDGE, SURFACE = (
    f"washer.{name}" for name in ("spring_thickness", "cone_height", "edge_friction", "surface_friction")
)
"""Keys of [spread] that change the law of spring washers."""

SIZES = (THICKNESS, CONE)

ROOM = "room in the nut"
"""Name, among the values of samples, of the gap (mm) between the stud's end and a domed nut that touches its washers."""


@dataclass(frozen=True)
class ManySprings:
    """The laws of a spring washer group in S samples: as `joint.interfaces.spring_law`, each with its own sizes.

    force of one washer = (a + (b + c travel) travel) travel up to its `cone` (S,) mm; load, unload: branches of friction
    """

    a: Array = field(repr=False)
    b: Array = field(repr=False)
    c: Array = field(repr=False)
    cone: Array = field(repr=False)
    stiffness: Array = field(repr=False)
    load: Array = field(repr=False)
    unload: Array = field(repr=False)
    parallel: int
    series: int

    def force(self, travel: Array, memory: tuple[Array, Array]) -> tuple[Array, Array]:
        """Return force and slope (1, S) at travels (1, S) mm; memory: travel and force (1, S) before."""
        one = np.clip(travel / self.series, 0.0, self.cone)
        beyond = travel - self.series * self.cone
        base = self.parallel * one * (self.a + one * (self.b + one * self.c))
        slope = self.parallel * (self.a + one * (2.0 * self.b + one * 3.0 * self.c)) / self.series
        base = base + self.stiffness * np.maximum(beyond, 0.0)
        slope = np.where(beyond > 0.0, self.stiffness, np.where(travel >= 0.0, slope, 0.0))
        trial = memory[1] + self.stiffness * (travel - memory[0])
        upper, lower = self.load * base, self.unload * base
        value = np.minimum(np.maximum(trial, lower), upper)
        bent = np.where(
            trial >= upper, self.load * slope, np.where(trial <= lower, self.unload * slope, self.stiffness)
        )
        return value, bent

    def among(self, chosen: Array) -> ManySprings:
        """Return the laws of some of the samples."""
        names = ("a", "b", "c", "cone", "stiffness", "load", "unload")
        return replace(self, **{name: getattr(self, name)[chosen] for name in names})


def sampled(spring: SpringWasher, values: Mapping[str, Array], count: int) -> dict[str, Array]:
    """Return thickness, cone height and frictions (S,) of samples by key: their own, or the spring's."""
    own = dict(zip((THICKNESS, CONE, EDGE, SURFACE), (
        spring.thickness, spring.cone_height, spring.edge_friction, spring.surface_friction,
    ), strict=True))  # fmt: skip
    return {key: np.broadcast_to(np.asarray(values.get(key, each), dtype=float), (count,)) for key, each in own.items()}


def many_springs(setup: Setup, values: Mapping[str, Array], count: int) -> ManySprings | None:
    """Return the laws of the samples' spring washers; None where none is spread.

    Source: as `joint.interfaces.spring_law`: Almen & Laszlo 1936, the flat steel ring beyond, friction as DIN 2092.
    """
    if not setup.springs or not any(key in values for key in (THICKNESS, CONE, EDGE, SURFACE)):
        return None
    spring = setup.springs[0]
    own = sampled(spring, values, count)
    thickness, cone = own[THICKNESS], own[CONE]
    modulus = float(spring.material.youngs_modulus.at(20.0))
    points = cone[:, None] * np.array([1.0, 2.0, 3.0]) / 3.0  # three points give the cubic exactly
    forces = np.asarray(
        spring_force(
            points, spring.outer_diameter, spring.inner_diameter, thickness[:, None], cone[:, None], modulus,
            spring.material.poisson,
        )
    )  # fmt: skip
    cubic = np.linalg.solve(points[:, :, None] ** np.array([1, 2, 3]), forces[:, :, None])[:, :, 0]
    ring = np.pi / 4 * (spring.outer_diameter**2 - spring.inner_diameter**2)
    stiffness = modulus * ring / (spring.series * spring.parallel * thickness)
    lost = own[EDGE] + (spring.parallel - 1) * own[SURFACE]
    return ManySprings(
        cubic[:, 0], cubic[:, 1], cubic[:, 2], cone, stiffness, 1.0 / (1.0 - lost), 1.0 / (1.0 + lost),
        spring.parallel, spring.series,
    )  # fmt: skip


def flat_loads(setup: Setup, values: Mapping[str, Array], count: int) -> Array:
    """Return the force (S,) N at which each sample's group of spring washers is flat, without friction."""
    spring = setup.springs[0]
    own = sampled(spring, values, count)
    modulus = float(spring.material.youngs_modulus.at(20.0))
    one = flat_load(
        spring.outer_diameter, spring.inner_diameter, own[THICKNESS], own[CONE], modulus, spring.material.poisson
    )
    return spring.parallel * np.asarray(one)


def room_of(setup: Setup) -> float:
    """Return the gap (mm) between the stud's end and a domed nut that touches its free washers; below 0: it cannot."""
    return setup.nut_face_z + setup.nut.usable_thread_depth - setup.stud_top_z


def laid_out_room(layout: Layout) -> float:
    """Return the same gap (mm) as a section was laid out with."""
    assert layout.dome_gap is not None
    return layout.dome_gap - layout.nut_lift


def own_gaps(built: BuiltJoint, values: Mapping[str, Array], count: int) -> Array | None:
    """Return how far ports are more open (n, S) mm in samples than in the section; None where none is."""
    if ROOM not in values or built.layout.dome_gap is None:
        return None
    gaps = np.zeros((built.joint.n_ports, count))
    gaps[built.joint.slices["dome"]] = values[ROOM] - laid_out_room(built.layout)
    return gaps


def grown(built: BuiltJoint, values: Mapping[str, Array], changes: Array) -> Array:
    """Return gap changes (n, S or 1) mm by heat as they are with each sample's own thickness of spring washers."""
    if THICKNESS not in values or not built.setup.springs:
        return changes
    name = next(each.name for each in built.layout.joinings if each.spring is not None)
    part, own = built.joint.slices[name], built.setup.springs[0].thickness
    result = np.array(np.broadcast_to(changes, (len(changes), len(values[THICKNESS]))))
    result[part] = result[part] * (values[THICKNESS] / own)
    return result


def adapted(built: BuiltJoint, setup: Setup, room: float | None = None) -> BuiltJoint:
    """Return a joint on the same section with the spring washers of another setup, and another room (mm) in its nut."""
    joint, layout = built.joint, built.layout
    faces, gap = list(joint.interfaces), joint.gap
    if setup.springs and setup.springs != built.setup.springs:
        spring = setup.springs[0]
        joinings = tuple(each if each.spring is None else replace(each, spring=spring) for each in layout.joinings)
        layout = replace(layout, joinings=joinings)
        name = next(each.name for each in joinings if each.spring is not None)
        at = next(index for index, face in enumerate(faces) if face.name == name)
        sets = isinstance(faces[at].law, SettingCurveLaw)
        faces[at] = replace(faces[at], law=setting_spring_law(spring) if sets else spring_law(spring))
    if room is not None and layout.dome_gap is not None:
        more, part = room - laid_out_room(layout), joint.slices["dome"]
        at = next(index for index, face in enumerate(faces) if face.name == "dome")
        faces[at] = replace(faces[at], gap=faces[at].gap + more)
        gap = gap.copy()
        gap[part] += more
    return replace(built, setup=setup, layout=layout, joint=replace(joint, interfaces=tuple(faces), gap=gap))
