"""A fingerprint of a case's inputs: the same parsed values, the same text, however the file is laid out."""

from __future__ import annotations

import hashlib
import json
from dataclasses import fields, is_dataclass, replace
from typing import Any

from studwell.case.records import Case, Limits, Setup


def inputs_sha256(case: Case) -> str:
    """Return the SHA-256 of a case's values in canonical form, 64 hexadecimal digits.

    case : Case; comments, order of keys, spelling of units and the file's name do not matter; stock values and the bytes of
    a mesh file do
    """
    values = _plain(case)
    del values["file"]
    return _sha256(values)


def same_heat_key(setup: Setup) -> str:
    """Return a text that two setups share only if the same heat solution serves both: all that they are given is alike
    but for the name, what is asked of them and how they settle, yield and are tightened again."""
    return _sha256(
        _plain(
            replace(
                setup,
                name="",
                limits=Limits(None, None),
                settling=None,
                retighten=None,
                inelastic=None,
                crack=None,
                review=None,
            )
        )
    )


def _sha256(values: Any) -> str:
    text = json.dumps(values, sort_keys=True, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def _plain(value: Any, unused: frozenset[str] = frozenset()) -> Any:
    """Return a record as nested dicts and lists, without the fields marked as apart, or as later and at their defaults.

    unused : optional tables that the setup at hand does not have: stock values which serve those alone are left out
    """
    if isinstance(value, Setup):
        unused = frozenset(table for table in ("inelastic", "thermal") if getattr(value, table) is None)
    if is_dataclass(value):
        kept = ((each, getattr(value, each.name)) for each in fields(value) if not each.metadata.get("apart"))
        return {
            each.name: _plain(own, unused)
            for each, own in kept
            if not (each.metadata.get("later") and own == each.default) and each.metadata.get("only_with") not in unused
        }
    return [_plain(inner, unused) for inner in value] if isinstance(value, tuple | list) else value
