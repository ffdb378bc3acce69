"""Turn what the models refuse into plain lines that name file, table, key, value and what is allowed."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Literal, get_origin

from pydantic import BaseModel, BeforeValidator, ValidationError
from pydantic.fields import FieldInfo

from studwell.case import model
from studwell.case.bounds_model import BoundsTable, WasherBoundTable
from studwell.case.overrides import Location, Origin, did_you_mean
from studwell.errors import BadCase, BadQuantity

_TABLES: dict[tuple[str, ...], type[BaseModel]] = {
    (): model.SetupTables,
    ("case",): model.CaseTable,
    ("boss",): model.BossTable,
    ("boss", "insert"): model.InsertTable,
    ("boss", "mesh_names"): model.MeshNamesTable,
    ("stud",): model.StudTable,
    ("stack",): model.LayerTable,
    ("washer",): model.WasherTable,
    ("nut",): model.NutTable,
    ("seating",): model.SeatingTable,
    ("tightening",): model.TighteningTable,
    ("history",): model.HistoryTable,
    ("history", "point"): model.PointTable,
    ("history", "phase"): model.PhaseTable,
    ("thermal",): model.ThermalTable,
    ("thermal", "surface"): model.SurfaceTable,
    ("settling",): model.SettlingTable,
    ("retighten",): model.RetightenTable,
    ("inelastic",): model.InelasticTable,
    ("repair",): model.RepairTable,
    ("crack",): model.CrackTable,
    ("limits",): model.LimitsTable,
    ("pressure",): model.PressureTable,
    ("pocket",): model.PocketTable,
    ("pattern",): model.PatternTable,
    ("bounds",): BoundsTable,
    ("bounds", "washer"): WasherBoundTable,
    ("material",): model.MaterialTable,
}
_MOST_SHOWN = 4


def refused(
    error: ValidationError, origin: Origin, *, beneath: Location = (), ignore_missing: bool = False
) -> BadCase | None:
    """Return one BadCase for everything that the models refused, its further lines in `also`.

    error          : from pydantic, locations relative to the tables of one setup (or to [case])
    origin         : names file, setup and the place of each key
    beneath        : the table that the models read, () for all tables of a setup
    ignore_missing : leave out keys that are not there (the case's own tables may leave them to the setups)
    returns        : BadCase, None if nothing is left
    """
    details = [(beneath + _location(detail["loc"]), detail) for detail in error.errors(include_url=False)]
    details.sort(key=lambda pair: pair[1]["type"] != "extra_forbidden")
    meant: set[Location] = set()
    found: list[BadCase] = []
    for location, detail in details:
        if detail["type"] == "missing" and (ignore_missing or location in meant):
            continue
        if detail["type"] == "extra_forbidden":
            hint, allowed = did_you_mean(str(location[-1]), keys_of(location[:-1]))
            meant.add((*location[:-1], hint[len("; did you mean ") : -1]))
            what = "unknown table" if len(location) == 1 else "unknown key"
            found.append(origin.bad(location, f"{what}{hint}", allowed, slug="unknown-key"))
        else:
            found.append(_refusal(location, detail, origin))
    if not found:
        return None
    first = found[0]
    first.also = tuple(found[1:_MOST_SHOWN])
    return first


def keys_of(location: Location) -> list[str]:
    """Return the keys that the table at a location may hold."""
    table = _table(location)
    return [key for key in model.table_keys(table) if key != "nodes"] if table else []


def _location(loc: tuple[int | str, ...]) -> Location:
    """Drop the step that only the model has: the nodes of a point of the history."""
    return tuple(step for depth, step in enumerate(loc) if not (step == "nodes" and depth == 3))


def _table(location: Location) -> type[BaseModel] | None:
    words = tuple(step for step in location if isinstance(step, str))
    if words[:1] == ("material",):
        words = words[:1]
    return _TABLES.get(words)


def _refusal(location: Location, detail: Any, origin: Origin) -> BadCase:
    kind, value = detail["type"], detail["input"]
    cause = detail.get("ctx", {}).get("error")
    if isinstance(cause, BadQuantity):
        return origin.bad(location, cause.problem, cause.allowed, value=value, slug=cause.slug)
    if kind == "missing":
        table = len(location) == 1 or (_table(location) is not None and not isinstance(location[-1], int))
        if len(location) == 3 and location[0] == "material" and location[2] == "base":
            return origin.bad(
                location, "missing: the stocked material that this one changes", "a name of `studwell stock materials`",
                slug="missing-key",
            )  # fmt: skip
        return origin.bad(location, "missing table" if table else "missing", _described(location), slug="missing-key")
    if kind == "literal_error":
        allowed = str(detail["ctx"]["expected"]).replace("'", '"')
        return origin.bad(location, "not one of the choices", allowed, value=value)
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        return origin.bad(location, "a table is needed", value=value, slug="wrong-kind")
    if kind == "list_type":
        shown = None if isinstance(value, dict | list) else value
        entry = _entries(location)
        if entry is not None:
            return origin.bad(location, "a list is needed", _listed(entry), value=shown, slug="wrong-kind")
        name = ".".join(str(step) for step in location)
        return origin.bad(location, f"a list of tables is needed: write [[{name}]]", value=shown, slug="wrong-kind")
    if kind == "too_short":
        least, entry = f"at least {detail['ctx']['min_length']}", _entries(location)
        allowed = least if entry is None else f"{_listed(entry)}, {least}"
        return origin.bad(location, "too few entries", allowed, slug="missing-key")
    if kind == "too_long":
        return origin.bad(location, "too many entries", f"at most {detail['ctx']['max_length']}", slug="bad-value")
    if kind == "bool_type":
        return origin.bad(location, "a bare true or false is needed", "true or false", value=value, slug="wrong-kind")
    if kind == "string_type":
        return origin.bad(location, "a text in quotes is needed", value=value, slug="wrong-kind")
    return origin.bad(location, str(detail["msg"]).lower(), value=value)


def _described(location: Location) -> str:
    """Say what a key holds, from the reader or the choices of its model."""
    info = _field(location)
    return "" if info is None else _readable(info.annotation, info.metadata)


def _field(location: Location) -> FieldInfo | None:
    """The field that a model has for a key, None if it has none."""
    table = _table(location[:-1]) if location else None
    fields = table.model_fields.items() if table is not None else ()
    return next((info for name, info in fields if (info.alias or name) == location[-1]), None)


def _readable(annotation: Any, metadata: Iterable[Any]) -> str:
    """What a value may be: as its reader says, or its choices; "" where neither is there."""
    for entry in metadata:
        if isinstance(entry, BeforeValidator):
            return str(getattr(entry.func, "allowed", ""))
    choices = getattr(annotation, "__args__", ())
    if choices and all(isinstance(choice, str) for choice in choices):
        return " or ".join(f'"{choice}"' for choice in choices)
    return ""


def _entries(location: Location) -> Any:
    """The type of the entries of a list of values, None where the key is a list of tables or no list."""
    info = _field(location)
    if info is None:
        return None
    for part in (info.annotation, *getattr(info.annotation, "__args__", ())):
        if get_origin(part) is list:
            entry = part.__args__[0]
            return None if isinstance(entry, type) and issubclass(entry, BaseModel) else entry
    return None


def _listed(entry: Any) -> str:
    """What a list of such entries may be, with the brackets that it needs."""
    inner = getattr(entry, "__origin__", None)
    if get_origin(entry) is Literal:
        choices = [f'"{choice}"' for choice in entry.__args__]
        return f"a list in brackets of {' or '.join(choices)}, such as [{', '.join(choices)}]"
    return f"a list in brackets, each {_readable(inner, getattr(entry, '__metadata__', ()))}".rstrip()
