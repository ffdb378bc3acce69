"""Write docs/keys.md, every table and key of the case file, from the models: `python -m studwell.case.key_reference`."""

from __future__ import annotations

import re
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel, BeforeValidator
from pydantic.fields import FieldInfo

from studwell import units
from studwell.case import model
from studwell.case.bounds_model import BoundsTable, WasherBoundTable
from studwell.case.key_words import KEY_WORDS, TABLE_NOTES
from studwell.case.review import ReviewTable
from studwell.case.spread import range_words
from studwell.case.spread_keys import key_patterns

TABLES: dict[str, type[BaseModel]] = {
    "case": model.CaseTable,
    "boss": model.BossTable,
    "boss.insert": model.InsertTable,
    "boss.mesh_names": model.MeshNamesTable,
    "stud": model.StudTable,
    "stack": model.LayerTable,
    "washer": model.WasherTable,
    "nut": model.NutTable,
    "seating": model.SeatingTable,
    "tightening": model.TighteningTable,
    "history": model.HistoryTable,
    "history.point": model.PointTable,
    "history.phase": model.PhaseTable,
    "limits": model.LimitsTable,
    "pocket": model.PocketTable,
    "pressure": model.PressureTable,
    "pattern": model.PatternTable,
    "thermal": model.ThermalTable,
    "thermal.surface": model.SurfaceTable,
    "settling": model.SettlingTable,
    "retighten": model.RetightenTable,
    "inelastic": model.InelasticTable,
    "repair": model.RepairTable,
    "crack": model.CrackTable,
    "review": ReviewTable,
    "material.NAME": model.MaterialTable,
    "bounds": BoundsTable,
    "bounds.washer": WasherBoundTable,
}
"""Name of each table in the case file -> its model."""

LISTS = ("stack", "washer", "history.point", "history.phase", "thermal.surface", "bounds.washer")
"""Tables that are written in double brackets and may repeat."""

_HEAD = """\
# Every key of a case file

Made from the program's own models by `python -m studwell.case.key_reference`. Quantities are texts with a unit, such as
`"8 mm"`; numbers are bare. Default: *needed* must be there, *-* may be left out. `studwell new FILE` writes a commented case.

`[setup.NAME]` takes any of the tables below but `[case]`, `[spread]` and `[bounds]`, and changes only the keys that it
names; lists are replaced whole, layers of the stack go by name. `[spread]` says what scatters for `studwell odds`:
`"TABLE.KEY" = { distribution = ..., sd = ... }`, see docs/odds.md.
"""


def key_reference() -> str:
    """Return the text of docs/keys.md. Raises KeyError: a key or table has no words."""
    parts = [_HEAD, _quantities()]
    for name, table in TABLES.items():
        heading = f"[[{name}]]" if name in LISTS else f"[{name}]"
        _, _, said = (table.__doc__ or "").partition(": ")
        note = TABLE_NOTES.get(name)
        parts.append(f"## {heading}\n{said[:1].upper()}{said[1:]}{' ' + note if note else ''}\n")
        rows = ["| key | holds | default | what it is |", "| --- | --- | --- | --- |"]
        for key, info in table.model_fields.items():
            shown = "NODE" if key == "nodes" else info.alias or key
            holds = holding(info).replace("|", "\\|")
            rows.append(f"| `{shown}` | {holds} | {_default(info)} | {KEY_WORDS[name][shown]} |")
        parts.append("\n".join(rows) + "\n")
    return "\n".join([*parts, _spread()])


_MOVES = {
    "load": "loads and states",
    "limit": "limits alone",
    "spring": "the law of all spring washers alike",
    "geometry": "the section: interpolated",
    "crack": "cracks and fatigue, in checked samples alone",
}


def _spread() -> str:
    """Return what may be spread, as rows of a table."""
    rows = [
        f"| `{key.name}` | {key.kind.replace('_', ' ')} | {range_words(key) or '-'} | {_MOVES[key.effect]} |"
        for key in key_patterns()
    ]
    head = (
        '## [spread]\nWhat scatters, for `studwell odds`: `"KEY" = { distribution = "normal", sd = ... }`, see docs/odds.md. A '
        "value may be, in mm, N, MPa and bare numbers:\n"
    )
    return "\n".join([head, "| key | quantity | may be | what it moves |", "| --- | --- | --- | --- |", *rows]) + "\n"


def _quantities() -> str:
    """Return the table of the kinds of quantity with their units."""
    rows = ["| quantity | units | example |", "| --- | --- | --- |"]
    rows += [f'| {kind.name} | {kind.units} | `"{kind.example}"` |' for kind in units.KINDS.values()]
    return "\n".join(rows) + "\n"


def holding(info: FieldInfo) -> str:
    """Return what a key holds, in the words of the reader or of the kind that its model names."""
    for entry in info.metadata:
        if isinstance(entry, BeforeValidator) and (said := getattr(entry.func, "allowed", "")):
            return _brief(str(said))
    return _kind(info.annotation)


def _brief(said: str) -> str:
    """Leave out the units that every quantity of a kind may have; they stand once above all tables."""
    return re.sub(r"\ban? ([a-z ]+?) with its unit \(.*?\), such as \"", r'\1 such as "', said)


def _kind(kind: Any) -> str:
    origin, inner = get_origin(kind), get_args(kind)
    if origin is Annotated:
        found = [getattr(e.func, "allowed", "") for e in inner[1:] if isinstance(e, BeforeValidator)]
        return next((_brief(str(said)) for said in found if said), "") or _kind(inner[0])
    if origin in (Union, UnionType):
        return " or ".join(_kind(one) for one in inner if one is not NoneType)
    if origin is Literal:
        return ", ".join(f'`"{choice}"`' for choice in inner)
    if origin is list:
        return "tables" if _is_table(inner[0]) else f"list, each {_kind(inner[0])}"
    if origin is dict:
        return f"table of names, each {_kind(inner[1])}"
    if _is_table(kind):
        return "table"
    return _PLAIN[kind]


_PLAIN = {str: "text", int: "whole number", float: "number", bool: "true or false"}


def _is_table(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def _default(info: FieldInfo) -> str:
    if info.is_required():
        return "needed"
    value = info.get_default(call_default_factory=True)
    if value is None or value in ((), {}, []):
        return "-"
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    if isinstance(value, tuple):
        return ", ".join(f"`{one}`" for one in value)
    return f'`"{value}"`' if isinstance(value, str) else f"`{value:g}`"


if __name__ == "__main__":
    print(key_reference(), end="")
