"""What the data hold, as tables with their sources."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rich.table import Table

from studwell.data import source_of, table

KINDS = {
    "materials": "materials",
    "classes": "property_classes",
    "threads": "threads",
    "nuts": "nuts",
    "washers": "plain_washers",
    "springs": "springs",
    "gaskets": "gaskets",
    "fluids": "fluids",
    "drills": "drills",
    "taps": "taps",
    "threadlockers": "threadlockers",
    "assumptions": "assumptions",
}
"""Kind on the command line -> data file."""


def stock_kinds() -> tuple[str, ...]:
    """Return the kinds that can be listed."""
    return tuple(KINDS)


def stock_table(kind: str) -> Table:
    """Return one kind as a table: name, values, source and its status. kind: one of stock_kinds()."""
    result = Table(title=f"{kind} in stock", title_justify="left")
    result.add_column("name", overflow="fold", min_width=14)
    result.add_column("values", overflow="fold", ratio=3)
    result.add_column("status")
    result.add_column("source", overflow="fold", ratio=2)
    for row in _rows(table(KINDS[kind])):
        result.add_row(*row)
    return result


def _rows(data: Mapping[str, Any]) -> list[tuple[str, str, str, str]]:
    rows = []
    for name, entry in data.items():
        if not isinstance(entry, Mapping):
            continue
        if "rows" in entry:
            for size, values in entry["rows"].items():
                source, status = source_of(values, entry) if isinstance(values, Mapping) else source_of(entry)
                text = _values(values) if isinstance(values, Mapping) else str(values)
                text += f" ({entry['unit']})" if "unit" in entry and isinstance(values, Mapping) else ""
                rows.append((f"{name} {size}" if not str(size).startswith("DIN") else str(size), text, status, source))
        elif any(isinstance(value, Mapping) and "source" in value for value in entry.values()):
            first = True
            for key, value in _with_sources(entry):
                source, status = source_of(value)
                rows.append((name if first else "", f"{key}: {_amount(value)}", status, source))
                first = False
        else:
            source, status = source_of(entry)
            rows.append((name, _values(entry), status, source))
    return rows


def _with_sources(entry: Mapping[str, Any], prefix: str = "") -> list[tuple[str, Mapping[str, Any]]]:
    """Every value of an entry that names its source, those of tables within it too."""
    found: list[tuple[str, Mapping[str, Any]]] = []
    for key, value in entry.items():
        if isinstance(value, Mapping):
            found += [(prefix + key, value)] if "source" in value else _with_sources(value, f"{prefix}{key} ")
    return found


def _amount(value: Mapping[str, Any]) -> str:
    unit = value.get("unit", "")
    unit = "" if unit == "1" else f" {unit}"
    if "value" in value:
        return f"{value['value']}{unit}"
    if "temperatures" not in value:
        return f"{', '.join(f'{amount:g}' for amount in value['values'])}{unit}"
    pairs = zip(value["temperatures"], value["values"], strict=True)
    return "; ".join(f"{amount:g}{unit} at {temperature:g} degC" for temperature, amount in pairs)


def _values(entry: Mapping[str, Any]) -> str:
    skipped = ("source", "status", "rows")
    return "; ".join(f"{key} {_plain(value)}" for key, value in entry.items() if key not in skipped)


def _plain(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{key}: {_plain(inner)}" for key, inner in value.items()) + "}"
    if isinstance(value, tuple):
        return "[" + ", ".join(f"{item:g}" if isinstance(item, float) else str(item) for item in value) + "]"
    return str(value)
