"""Read the data that ships with studwell: TOML tables in which every value names its source.

Two shapes of entry are used, and nothing else:

* a value: ``{value = 0.33, unit = "1", source = "...", status = "confirmed"}``; a value that changes
  with temperature has ``temperatures`` (degC) and ``values`` in place of ``value``;
* a row of a standard's table: plain numbers in the table's ``unit``, with ``source`` and ``status``
  given once for the table, or again in the row where one row differs.

``status`` is "confirmed" (the figure was seen in public text, a reprint of a table as a rule, never
the paid standard itself), "computed" (from a closed form) or "from memory" (nobody has looked yet).
"""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

STATUSES = ("confirmed", "computed", "from memory")
TABLES = (
    "materials",
    "threads",
    "property_classes",
    "nuts",
    "plain_washers",
    "springs",
    "gaskets",
    "fluids",
    "drills",
    "taps",
    "threadlockers",
    "workshop",
    "assumptions",
)


@cache
def table(name: str) -> Mapping[str, Any]:
    """Return one data file as a read-only mapping.

    name              : str, one of TABLES ("materials", "nuts", ...)
    returns           : nested read-only mapping; numbers are float or int, in the unit that the file states
    raises ValueError : no such table

    Source: the files of this package; each value in them names its own.
    """
    if name not in TABLES:
        raise ValueError(f"no data table named {name!r}; the tables are {', '.join(TABLES)}")
    text = files(__name__).joinpath(f"{name}.toml").read_text(encoding="utf-8")
    return _frozen(tomllib.loads(text))


def _frozen(value: Any) -> Any:
    if isinstance(value, dict):
        return MappingProxyType({key: _frozen(inner) for key, inner in value.items()})
    if isinstance(value, list):
        return tuple(_frozen(inner) for inner in value)
    return value


def assumption(name: str) -> float:
    """Return one of the physical defaults that a case may override.

    name              : str, a key of assumptions.toml ("locked_torsion_share", ...)
    returns           : float, in the unit that assumptions.toml states for that key
    raises ValueError : no such key

    Source: assumptions.toml, which gives the source and status of each.
    """
    entries = table("assumptions")
    if name not in entries:
        raise ValueError(f"no assumption named {name!r}; known are {', '.join(sorted(entries))}")
    return float(entries[name]["value"])


def source_of(entry: Mapping[str, Any], owner: Mapping[str, Any] | None = None) -> tuple[str, str]:
    """Return where an entry comes from.

    entry             : mapping with "source" and "status", or a row of a table
    owner             : the table of a row, asked where the row itself is silent
    returns           : (source, status), both str
    raises ValueError : neither says, or the status is not one of STATUSES

    Source: the entry.
    """
    fallback: Mapping[str, Any] = owner if owner is not None else {}
    source, status = (entry.get(key, fallback.get(key)) for key in ("source", "status"))
    if not source or status not in STATUSES:
        raise ValueError(f"a data entry lacks its source or status: {dict(entry)}")
    return str(source), str(status)
