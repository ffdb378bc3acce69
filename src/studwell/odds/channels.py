"""What limits read of every state of many samples: forces, stresses and temperatures as arrays (states, samples)."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from studwell.fem.elasticity import von_mises
from studwell.joint.build import BuiltJoint
from studwell.odds.many import ManyHeat, ManyStates
from studwell.strength.floor import punch_surface_of

Array = np.ndarray

CORNER, PUNCH, UNDERSIDE = "floor corner", "floor punch", "floor underside"
MISES = "von Mises under the floor"


@dataclass(frozen=True)
class ChannelMaps:
    """Rows over port forces and what else a channel needs.

    loads    : channel -> (n,) row of axial shares
    stresses : place -> ((places, 4, n) MPa/N, (places, 4, modes) MPa per unit of the boss's thermal modes)
    tip, dome: slices of ports whose openings count, None without;  cosine: of the seat's slope
    nodes    : channel of a temperature -> number of its node
    """

    loads: dict[str, Array] = field(repr=False)
    stresses: dict[str, tuple[Array, Array]] = field(repr=False)
    tip: slice
    cosine: float
    dome: slice | None
    nodes: dict[str, int]
    tension_ports: Array = field(repr=False)
    tension_stretch: float
    tension_outside: float
    stud: int
    boss_index: int
    boss_weights: Array = field(repr=False)


def uppermost(built: BuiltJoint) -> tuple[str, str]:
    """Return the name of the face on the uppermost layer of the stack, and that layer's."""
    rings = {ring.name: ring for ring in built.layout.rings}
    joining = next(j for j in reversed(built.layout.joinings) if j.lower in rings and not rings[j.lower].is_washer)
    return joining.name, joining.lower


def channel_maps(built: BuiltJoint) -> ChannelMaps:
    """Return the maps of a joint."""
    joint = built.joint
    faces = [face.name for face in joint.interfaces if face.name.startswith("face ")]
    over, layer = uppermost(built)
    named = {
        "clamp": faces[0], "bearing": faces[-1], "tip": "tip", "thread": "boss thread", "nut_thread": "nut thread",
        "dome": "dome", "insert": "insert thread", "under": over,
    }  # fmt: skip
    spring = next((j.name for j in built.layout.joinings if j.kind == "spring"), None)
    if spring is not None:
        named["spring"] = spring
    loads = {}
    for channel, name in named.items():
        row = np.zeros(joint.n_ports)
        if joint.has(name):
            row[joint.slices[name]] = joint.interface(name).axial
        loads[channel] = row
    boss = joint.body_index("boss")
    maps = {}
    for place in (CORNER, UNDERSIDE):
        if place in joint.bodies[boss].stress:
            stress = joint.bodies[boss].stress[place]
            maps[place] = (stress.force @ joint.weights[boss], stress.strain)
    surface = punch_surface_of(built)
    if surface is not None:
        stress = joint.bodies[boss].stress[PUNCH]
        force = np.einsum("pcm,p->cm", stress.force, surface.places.weights)
        strain = np.einsum("pck,p->ck", stress.strain, surface.places.weights)
        maps[PUNCH] = ((force @ joint.weights[boss])[None], strain[None])
    names = built.setup.history.node_names
    node = next(each.node for each in built.setup.stack if each.name == layer)
    count = int(np.count_nonzero(joint.interface("tip").axial > 0.0))
    start = joint.slices["tip"].start
    assert joint.shank is not None
    stud, mode, law = joint.shank
    rows = joint.bodies[stud].tension
    assert rows is not None
    return ChannelMaps(
        loads,
        maps,
        slice(start, start + count),
        float(np.cos(built.layout.cone_slope)),
        joint.slices["dome"] if joint.has("dome") else None,
        {"boss_T": names.index("boss"), "nut_T": names.index("nut"), "layer_T": names.index(node)},
        rows[0] @ joint.weights[stud],
        float(rows[1][mode]) / law.length,
        float(rows[0] @ joint.outside[stud]),
        stud,
        boss,
        joint.weights[boss],
    )


class Channels:
    """Channels (states, S) by name, filled state by state: seated, tightened, the run, the run under pressure."""

    def __init__(self, maps: ChannelMaps, count: int) -> None:
        self.maps, self.count = maps, count
        self._rows: dict[str, list[Array]] = {}
        self.names = tuple(maps.loads)
        self.stack = np.stack([*maps.loads.values(), maps.tension_ports])

    def add(self, state: ManyStates, heat: ManyHeat, temperatures: Array, outside: Array | float) -> None:
        """Add one instant; temperatures (S, nodes) degC, outside N, of all or of each (S,)."""
        maps = self.maps
        sums = self.stack @ state.forces
        for name, row in zip(self.names, sums, strict=False):
            self._put(name, row)
        tension = sums[-1] + heat.tension + outside * maps.tension_outside
        self._put("tension", tension + maps.tension_stretch * state.stretch / heat.softness[maps.stud])
        self._put("outside", np.asarray(outside, dtype=float))
        gap = np.maximum(state.openings[maps.tip].min(axis=0), 0.0) / maps.cosine
        self._put("tip_gap", gap)
        if maps.dome is not None:
            self._put("dome_gap", state.openings[maps.dome].min(axis=0))
        self._put("shear", state.shear)
        self._put("stretch", state.stretch)
        self._put("stud_yield", heat.stud_yield)
        for name, column in maps.nodes.items():
            self._put(name, temperatures[:, column])
        strain = None if heat.boss_strain is None else heat.boss_strain
        for place, (force, own) in maps.stresses.items():
            stress = np.einsum("pcn,ns->pcs", force, state.forces, optimize=True)
            if strain is not None:
                stress = (
                    stress + np.einsum("pck,ks->pcs", own[..., : len(strain)], strain) / heat.softness[maps.boss_index]
                )
            self._put(place, stress[0, 3] if place == PUNCH else first_principal(stress).max(axis=0))
            if place == UNDERSIDE:
                self._put(MISES, von_mises(np.moveaxis(stress, 1, -1)).max(axis=0))

    def _put(self, name: str, values: Array) -> None:
        self._rows.setdefault(name, []).append(np.broadcast_to(values, (self.count,)))

    def __getitem__(self, name: str) -> Array:
        """Return a channel (states, S)."""
        return np.stack(self._rows[name])

    def __contains__(self, name: str) -> bool:
        return name in self._rows


def first_principal(stress: Array) -> Array:
    """Return the first principal stress (places, S) of stresses (places, 4, S): rr, hoop, zz, rz."""
    middle = 0.5 * (stress[:, 0] + stress[:, 2])
    radius = np.hypot(0.5 * (stress[:, 0] - stress[:, 2]), stress[:, 3])
    return np.maximum(middle + radius, stress[:, 1])
