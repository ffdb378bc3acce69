"""[spread]: distributions of keys of the case and their correlations, read and checked."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from studwell import units
from studwell.case.overrides import did_you_mean
from studwell.case.spread_keys import SpreadKey, spread_keys
from studwell.case.spread_record import Distribution, Spread
from studwell.errors import BadCase, BadQuantity

KINDS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "normal": (("sd",), ("mean", "low", "high")),
    "lognormal": (("sd",), ("mean", "low", "high")),
    "uniform": (("low", "high"), ()),
    "triangular": (("low", "high"), ("mode",)),
    "data": ((), ("file", "values")),
}
"""Distribution -> the keys that it needs, and those that it may have."""

CORRELATIONS = "correlations"


def build_spread(table: Any, case: Any, file: str, folder: Path | None) -> Spread:
    """Return what a [spread] table says.

    table  : as parsed;  case: Case, without its spread
    folder : where data files lie
    raises BadCase : an unknown key, a distribution without what it needs, a draw that may not be, correlations that
                     contradict each other
    """
    if not isinstance(table, dict) or not table:
        raise BadCase(file, "[spread]", table, "KEY = { distribution = ... }", "wrong-kind", "a table is needed")
    pairs = table.get(CORRELATIONS, [])
    keys = spread_keys(case)
    inputs = []
    for name, entry in _flat({k: v for k, v in table.items() if k != CORRELATIONS}, ""):
        where = f"[spread] {name}"
        if name not in keys:
            hint, allowed = did_you_mean(name, list(keys))
            raise BadCase(file, where, None, allowed, "unknown-key", f"not a key that can be spread{hint}")
        key = keys[name]
        if all(key.get(setup) is None for setup in case.setups):
            raise BadCase(file, where, None, "", "missing-key", "no setup of the case has a value for it")
        inputs.append((name, _distribution(entry, key, file, where, folder)))
    if not inputs:
        raise BadCase(file, "[spread]", None, "KEY = { distribution = ... }", "missing-key", "nothing is spread")
    spread = Spread(tuple(inputs), _correlations(pairs, [name for name, _ in inputs], file))
    return spread


def _flat(table: Mapping[str, Any], before: str) -> list[tuple[str, Any]]:
    """Entries by dotted key, whether the file quotes the dots or nests tables."""
    found: list[tuple[str, Any]] = []
    for name, entry in table.items():
        dotted = f"{before}.{name}" if before else name
        nested = isinstance(entry, dict) and "distribution" not in entry and entry
        if nested and all(isinstance(inner, dict) for inner in entry.values()):
            found += _flat(entry, dotted)
        else:
            found.append((dotted, entry))
    return found


def _distribution(entry: Any, key: SpreadKey, file: str, where: str, folder: Path | None) -> Distribution:
    if not isinstance(entry, dict):
        example = '{ distribution = "normal", sd = ... }'
        raise BadCase(file, where, entry, example, "wrong-kind", "a table with a distribution is needed")
    kind = entry.get("distribution")
    if kind is None:
        raise BadCase(file, f"{where} distribution", None, ", ".join(KINDS), "missing-key", "missing")
    if kind not in KINDS:
        hint, allowed = did_you_mean(str(kind), list(KINDS))
        raise BadCase(file, f"{where} distribution", kind, allowed, "bad-value", f"not a distribution{hint}")
    needed, optional = KINDS[kind]
    for name in entry:
        if name not in ("distribution", *needed, *optional):
            hint, allowed = did_you_mean(name, (*needed, *optional))
            raise BadCase(file, f"{where} {name}", None, allowed, "unknown-key", f"not a key of {kind}{hint}")
    for name in needed:
        if name not in entry:
            raise BadCase(file, f"{where} {name}", None, _allowed(key), "missing-key", f"missing: {kind} needs it")
    if kind == "data":
        return Distribution(kind, values=_data(entry, key, file, where, folder))
    read = {name: _value(entry[name], key, file, f"{where} {name}") for name in (*needed, *optional) if name in entry}
    found = Distribution(kind, **read)  # type: ignore[arg-type]
    if found.sd is not None and found.sd <= 0.0:
        raise BadCase(file, f"{where} sd", entry["sd"], "above 0", "out-of-range", "not above zero")
    low, high = found.low, found.high
    if low is not None and high is not None and not low < high:
        raise BadCase(file, f"{where} high", entry["high"], "more than low", "out-of-range", "not above low")
    if found.mode is not None and low is not None and high is not None and not low <= found.mode <= high:
        raise BadCase(file, f"{where} mode", entry["mode"], "from low to high", "out-of-range", "outside low to high")
    for name in ("mean", "low", "high", "mode"):
        value = getattr(found, name)
        if value is not None and not key.allows(value):
            raise BadCase(file, f"{where} {name}", entry[name], range_words(key), "out-of-range", _problem(key, value))
    return found


def _value(text: object, key: SpreadKey, file: str, where: str) -> float:
    try:
        if key.kind == "number":
            if isinstance(text, bool) or not isinstance(text, int | float) or not math.isfinite(text):
                raise BadQuantity(text, "a bare number is needed, without quotes and unit", slug="wrong-kind")
            return float(text)
        return units.read(text, key.kind)
    except BadQuantity as problem:
        raise BadCase(file, where, problem.value, problem.allowed, problem.slug, problem.problem) from None


def _data(entry: Mapping[str, Any], key: SpreadKey, file: str, where: str, folder: Path | None) -> tuple[float, ...]:
    """Values of a file, one a line, or of a list; each with its unit."""
    if ("file" in entry) == ("values" in entry):
        raise BadCase(file, where, None, "one of the two", "missing-key", "data needs file or values")
    if "values" in entry:
        texts: list[tuple[object, str]] = (
            [(text, f"{where} values") for text in entry["values"]] if isinstance(entry["values"], list) else []
        )
    else:
        path = (folder or Path()) / str(entry["file"])
        try:
            lines = path.read_text(encoding="utf-8").splitlines()
        except (OSError, ValueError) as problem:
            reason = getattr(problem, "strerror", None) or problem
            raise BadCase(
                file, f"{where} file", entry["file"], "a text file, one value a line", "file-not-readable", str(reason)
            ) from None
        texts = [(_line(line, key), f"{where} file, line {i + 1}") for i, line in enumerate(lines) if line.strip()]
    values = tuple(_value(text, key, file, place) for text, place in texts)
    if len(values) < 2:
        raise BadCase(file, where, None, "at least two values", "missing-key", "too few values")
    for value, (text, place) in zip(values, texts, strict=True):
        if not key.allows(value):
            raise BadCase(file, place, text, range_words(key), "out-of-range", _problem(key, value))
    return values


def _line(line: str, key: SpreadKey) -> object:
    if key.kind != "number":
        return line.strip()
    try:
        return float(line)
    except ValueError:
        return line.strip()


def _correlations(pairs: Any, names: list[str], file: str) -> tuple[tuple[str, str, float], ...]:
    where = f"[spread] {CORRELATIONS}"
    form = '{ between = ["KEY", "KEY"], value = 0.5 }'
    if not isinstance(pairs, list):
        raise BadCase(file, where, pairs, f"a list of {form}", "wrong-kind", "a list is needed")
    found: dict[tuple[str, str], float] = {}
    for number, pair in enumerate(pairs):
        place = f"{where} {number + 1}"
        if not isinstance(pair, dict) or set(pair) != {"between", "value"} or not isinstance(pair["between"], list):
            raise BadCase(file, place, None, form, "wrong-kind", "not a correlation of two keys")
        both = [str(name) for name in pair["between"]]
        for name in both:
            if name not in names:
                hint, allowed = did_you_mean(name, names)
                raise BadCase(file, f"{place} between", name, allowed, "unknown-name", f"not spread{hint}")
        if len(set(both)) != 2:
            raise BadCase(file, f"{place} between", None, form, "bad-value", "two keys are needed")
        value = pair["value"]
        if isinstance(value, bool) or not isinstance(value, int | float) or not -1.0 < value < 1.0:
            raise BadCase(file, f"{place} value", value, "between -1 and 1", "out-of-range", "not a correlation")
        if (both[0], both[1]) in found or (both[1], both[0]) in found:
            raise BadCase(
                file, f"{place} between", None, "each pair once", "duplicate-name", "this pair is there already"
            )
        found[both[0], both[1]] = float(value)
    result = tuple((a, b, value) for (a, b), value in found.items())
    if not _positive_definite(names, result):
        raise BadCase(
            file, where, None, "values that can hold together", "bad-value",
            "the correlations contradict each other: their matrix is not positive definite",
        )  # fmt: skip
    return result


def _positive_definite(names: list[str], pairs: tuple[tuple[str, str, float], ...]) -> bool:
    matrix = np.eye(len(names))
    for a, b, value in pairs:
        i, j = names.index(a), names.index(b)
        matrix[i, j] = matrix[j, i] = value
    return float(np.linalg.eigvalsh(matrix).min()) > 1e-10


def _allowed(key: SpreadKey) -> str:
    return "a bare number" if key.kind == "number" else units.KINDS[key.kind].allowed


def range_words(key: SpreadKey) -> str:
    """Return what values a key may have, in words; "" for any."""
    least = "" if key.least is None else f"above {key.least:g}" if key.above else f"{key.least:g} or more"
    most = "" if key.most is None else f"at most {key.most:g}"
    return " and ".join(part for part in (least, most) if part)


def _problem(key: SpreadKey, value: float) -> str:
    if key.most is not None and value > key.most:
        return "too large"
    return "negative" if value < 0.0 else "zero" if value == 0.0 else "too small"
