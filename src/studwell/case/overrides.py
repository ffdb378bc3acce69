"""Lay a setup's overrides on the case's own tables, and name the place in the file that a key came from."""

from __future__ import annotations

import difflib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from studwell.case.boss_mesh import MeshFolder
from studwell.case.model import ALTERNATIVES
from studwell.errors import BadCase

Location = tuple[str | int, ...]
Tables = dict[str, Any]

_NUT_SIZES = ("size", "thread")
"""What a nut of another kind still shares with the one that it replaces."""


@dataclass(frozen=True)
class Origin:
    """Where the values of one setup come from, so that an error can name the line's table and key.

    file     : str, name of the case file
    setup    : str, name of the setup, "" for the case's own tables
    base     : the case's own tables, as parsed
    override : the setup's tables, as parsed
    merged   : the override laid on the base
    meshes   : the case file's folder, for mesh files that it names
    """

    file: str
    setup: str = ""
    base: Mapping[str, Any] = field(default_factory=dict)
    override: Mapping[str, Any] = field(default_factory=dict)
    merged: Mapping[str, Any] = field(default_factory=dict)
    meshes: MeshFolder = field(default_factory=MeshFolder, repr=False, compare=False)

    def overridden(self, location: Location) -> bool:
        """True if the setup itself, not the case's own tables, gives the key (or its list) at a location."""
        here: Any = self.override
        for depth, step in enumerate(location):
            if isinstance(here, list) or (depth == 1 and location[0] == "washer" and isinstance(step, int)):
                return True
            if isinstance(step, int):
                step = _name_of(self.merged, location[: depth + 1])
            if not isinstance(here, Mapping) or step not in here:  # a missing key belongs to the table that changed
                return depth == len(location) - 1 > 0 and _at(self.merged, location) is None
            here = here[step]
        return True

    def where(self, location: Location) -> str:
        """Return a location as error lines write it: `[setup."backed off".seating] back_off`."""
        own = bool(self.setup) and self.overridden(location)
        tables: list[str] = [f"setup.{quoted(self.setup)}"] if own else []
        lead, listed, key = "", False, ""
        for depth, step in enumerate(location):
            beneath = location[: depth + 1]
            if isinstance(step, int):
                name = _name_of(self.merged, beneath)
                if own and location[0] == "stack" and not isinstance(self.override.get("stack"), list):
                    tables.append(quoted(name))
                else:
                    listed = True
                    lead = json.dumps(name, ensure_ascii=False) if name else str(step + 1)
            elif listed:
                key = f"{key}.{quoted(step)}" if key else step
            elif depth == len(location) - 1 and depth > 0 and not isinstance(_at(self.merged, beneath), Mapping):
                key = step
            else:
                tables.append(quoted(step))
        if listed and not key and len(tables) > 1 and not isinstance(_at(self.merged, location), Mapping):
            listed = False  # an entry of a list of values, which no [[table]] is
            lead, key = tables.pop(), lead
        table = ".".join(tables)
        return " ".join(part for part in (f"[[{table}]]" if listed else f"[{table}]", lead, key) if part)

    def bad(
        self,
        location: Location,
        problem: str,
        allowed: str = "",
        *,
        value: object = None,
        slug: str = "bad-value",
        together: bool = False,
    ) -> BadCase:
        """Return the error for a location.

        together : the problem lies between fields, so that the setup is named even if the key is inherited
        """
        if together and self.setup and self.override and not self.overridden(location):
            problem = f"{problem} (setup {json.dumps(self.setup, ensure_ascii=False)})"
        return BadCase(self.file, self.where(location), value, allowed, slug, problem)

    def needs(self, location: Location, because: str, allowed: str = "") -> BadCase:
        """Return the error for a key that is missing because of another one."""
        return self.bad(location, f"missing: {because} needs it", allowed, slug="missing-key", together=True)

    def excludes(self, location: Location, because: str) -> BadCase:
        """Return the error for a key that does not go with another one."""
        return self.bad(
            location,
            f"does not go with {because}",
            "one of the two",
            value=self.given(location),
            together=True,
        )

    def given(self, location: Location) -> object:
        """Return the value that the user wrote at a location, None if there is none."""
        value = _at(self.merged, location)
        return None if isinstance(value, dict | list) else value


def lay_on(base: Tables, override: Tables, origin: Origin) -> Tables:
    """Return the case's own tables with a setup's overrides laid on.

    base, override : nested tables as parsed; unchanged
    origin         : names the file and setup in errors
    returns        : new nested tables: tables merge key by key, lists are replaced whole, stack layers go by name.
                     A setup with points of its own drops inherited phases and what belongs to them
    raises BadCase : a stack layer that is not there, a value where a table belongs
    """
    merged: Tables = {key: _copy(value) for key, value in base.items()}
    for key, value in override.items():
        if key == "stack" and isinstance(value, dict):
            merged["stack"] = _lay_on_stack(merged.get("stack"), value, origin)
        elif isinstance(value, dict) and isinstance(merged.get(key), dict):
            merged[key] = _lay_on_table(key, merged[key], value)
        else:
            merged[key] = _copy(value)
    history = override.get("history")
    if isinstance(history, dict) and "point" in history and "thermal" not in override:
        merged.pop("thermal", None)
    return merged


def nearest(word: str, known: Sequence[str]) -> str | None:
    """Return the known word that is nearest to a misspelt one, None if none is near."""
    lowered = {name.lower(): name for name in known}
    found = difflib.get_close_matches(word.lower(), list(lowered), 1, 0.6)
    if not found or (word[:1].lower() != found[0][:1] and not difflib.get_close_matches(word.lower(), found, 1, 0.7)):
        return None
    return lowered[found[0]]


def did_you_mean(word: str, known: Sequence[str]) -> tuple[str, str]:
    """Return (", did you mean NAME?" or "", what is allowed or "") for a word that is not known."""
    near = nearest(word, known)
    if near is not None:
        return f"; did you mean {near}?", ""
    return "", ", ".join(known) if known else "nothing"


def _lay_on_table(key: str, base: Tables, override: Tables) -> Tables:
    merged = {name: _copy(value) for name, value in base.items()}
    groups = ALTERNATIVES.get(key, ())
    given = [group for group in groups if any(name in override for name in group)]
    if len(given) == 1:
        for name in (name for group in groups if group not in given for name in group):
            merged.pop(name, None)
    if key == "boss" and override.get("hole_end") in ("flat", "radiused"):
        merged.pop("cone_angle", None)
    if key == "seating" and override.get("mode") == "bottomed":
        merged.pop("back_off", None)
        merged.pop("counted_from", None)
    if key == "history" and "point" in override and "phase" not in override:
        for name in ("cycles", "until_periodic"):
            merged.pop(name, None)
    if key == "nut" and override.get("kind", base.get("kind")) != base.get("kind"):
        merged = {name: value for name, value in merged.items() if name in _NUT_SIZES}
    for name, value in override.items():
        inner = merged.get(name)
        if isinstance(value, dict) and isinstance(inner, dict):
            merged[name] = _lay_on_table(name, inner, value)
        else:
            merged[name] = _copy(value)
    return merged


def _lay_on_stack(stack: Any, override: Tables, origin: Origin) -> list[Any]:
    layers: list[Any] = [_copy(layer) for layer in stack] if isinstance(stack, list) else []
    names = [layer.get("name") if isinstance(layer, dict) else None for layer in layers]
    for name, table in override.items():
        key = f"[setup.{quoted(origin.setup)}.stack.{quoted(name)}]"
        if name not in names:
            hint, allowed = did_you_mean(name, [known for known in names if isinstance(known, str)])
            raise BadCase(origin.file, key, None, allowed, "unknown-name", f"no layer of the stack has this name{hint}")
        if not isinstance(table, dict):
            raise BadCase(origin.file, key, table, "a table with the keys to change", "wrong-kind", "a table is needed")
        place = names.index(name)
        layers[place] = _lay_on_table("stack", layers[place], dict(table))
    return layers


def _copy(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _copy(inner) for key, inner in value.items()}
    return [_copy(inner) for inner in value] if isinstance(value, list) else value


def _at(tables: Any, location: Location) -> Any:
    for step in location:
        listed = isinstance(tables, list) and isinstance(step, int) and step < len(tables)
        if not listed and not (isinstance(tables, Mapping) and step in tables):
            return None
        tables = tables[step]
    return tables


def _name_of(tables: Any, location: Location) -> str:
    """Return the name or label that the user gave to an entry of a list, "" if it has none."""
    entry = _at(tables, location)
    name = entry.get("name", entry.get("label", "")) if isinstance(entry, Mapping) else ""
    return name if isinstance(name, str) else ""


def quoted(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else json.dumps(name, ensure_ascii=False)
