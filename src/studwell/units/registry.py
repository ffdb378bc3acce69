"""One unit into another by pint, which is imported here and nowhere else."""

from __future__ import annotations

from typing import Any

import pint

from studwell.units.kinds import KINDS


def quantity(value: Any, kind: str) -> Any:
    """Return an inside value, float or array, as a pint quantity of the application's registry.

    value : float or array, in the unit KINDS[kind].inside
    kind  : str, a key of KINDS, or "share" for a plain ratio
    """
    registry = _registry()
    return registry.Quantity(value, "dimensionless" if kind == "share" else KINDS[kind].inside)


def _registry() -> Any:
    """Return the registry that the caller's own quantities come from, so that the two can be added."""
    return pint.get_application_registry()


def converted(value: Any, unit: str, target: str) -> Any:
    """Return a number or array in `unit` as one in `target`; no rounding where both are the same."""
    if unit == target:
        return float(value) if isinstance(value, int | float) else value
    registry = _registry()
    scaled, unit = _factor(unit)
    out, target = _factor(target)
    result = registry.Quantity(value * scaled if scaled != 1 else value, unit).to(target).magnitude
    result = result / out if out != 1 else result
    return float(result) if isinstance(value, int | float) else result


def _factor(unit: str) -> tuple[float, str]:
    """Split "1e-6/kelvin" into 1e-6 and "1/kelvin": pint takes no factor in a unit."""
    return (1e-6, unit.replace("1e-6", "1")) if unit.startswith("1e-6") else (1.0, unit)
