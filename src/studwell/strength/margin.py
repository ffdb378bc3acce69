"""One margin: load over capacity with its moment and method, known, unknown or of a part that is not there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from studwell.joint.build import BuiltJoint
from studwell.parts.material import Material
from studwell.strength.timeline import Timeline

Array = np.ndarray
Kind = Literal["damage", "function"]


@dataclass(frozen=True)
class Margin:
    """One mode's margin.

    value    : load over capacity; inf where nothing carries the need ("unbounded"); None if unknown or no such part
    applies  : False if the setup has no such part (no spring, no dome)
    load, capacity, unit : what was divided; when: the moment of the worst value
    reason   : why it is unknown, or what should be known about it
    method   : how it was found, with source
    """

    mode: str
    kind: Kind
    value: float | None
    applies: bool = True
    load: float | None = None
    capacity: float | None = None
    unit: str = ""
    when: str = ""
    reason: str = ""
    method: str = ""

    @property
    def fails(self) -> bool:
        """True if the value is known and at or above the limit."""
        return self.value is not None and self.value >= 1.0

    @property
    def unknown(self) -> bool:
        """True if the mode applies and its value is not known."""
        return self.applies and self.value is None


def ratio_margin(
    mode: str, kind: Kind, timeline: Timeline, load: Array, capacity: Array, unit: str, method: str, reason: str = ""
) -> Margin:
    """Return the worst of load over capacity over states; load, capacity: (states,)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(
            capacity > 0.0, load / np.where(capacity > 0.0, capacity, 1.0), np.where(load > 0, np.inf, 0.0)
        )
    worst = int(np.argmax(ratio))
    return Margin(
        mode,
        kind,
        float(ratio[worst]),
        load=float(load[worst]),
        capacity=float(capacity[worst]),
        unit=unit,
        when=timeline.when(worst),
        reason=reason,
        method=method,
    )


def unknown_margin(mode: str, kind: Kind, reason: str) -> Margin:
    """Return a margin that cannot be known, with its reason."""
    return Margin(mode, kind, None, reason=reason)


def absent_margin(mode: str, kind: Kind, reason: str) -> Margin:
    """Return a margin of a part that the setup does not have."""
    return Margin(mode, kind, None, applies=False, reason=reason)


def node_temperatures(built: BuiltJoint, timeline: Timeline, temperatures: Array, node: str) -> Array:
    """Return a node's temperature (states,) degC; the assembly temperature before the run."""
    result = np.full(len(timeline.states), built.setup.history.assembly_temperature)
    column = temperatures[:, built.setup.history.node_names.index(node)]
    steps = len(column)
    result[timeline.run] = column
    beyond = timeline.run[-1] + 1
    if beyond < len(result):
        result[beyond : beyond + steps] = column
    return result


def surface_limit(material: Material, temperatures: Array) -> Array:
    """Return the pressure (n,) MPa that a material's surface stands at temperatures (n,) degC.

    The room value falls with temperature as the yield strength does, where that is known. Source: the material's data.
    raises ValueError : the material has no such limit
    """
    if material.bearing_pressure_limit is None:
        raise ValueError(f"the pressure that {material.name} stands is not known")
    limit = np.full(len(temperatures), material.bearing_pressure_limit)
    if material.yield_strength is None:
        return limit
    return limit * np.asarray(material.yield_strength.at(temperatures)) / float(material.yield_strength.at(20.0))
