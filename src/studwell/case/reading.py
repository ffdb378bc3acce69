"""Read a case file: text -> TOML -> models -> checked records, every refusal a BadCase that names the place."""

from __future__ import annotations

import functools
import re
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from studwell.case.boss_mesh import MeshFolder
from studwell.case.boss_mesh_fit import fitted_to_mesh
from studwell.case.bounds import build_bounds
from studwell.case.build import build_setup
from studwell.case.checks import check_setup
from studwell.case.heat import Elsewhere
from studwell.case.model import SCHEMA, CaseTable, SetupTables, table_keys
from studwell.case.overrides import Origin, Tables, did_you_mean, lay_on, quoted
from studwell.case.records import Case, Setup
from studwell.case.refusals import refused
from studwell.case.spread import build_spread
from studwell.errors import BadCase, shown
from studwell.parts.material import stock_material_names
from studwell.units import as_text, unmarked

SPREAD, BOUNDS = WHOLE = ("spread", "bounds")
"""The tables of the case file that hold for all setups alike."""

ONLY_SETUP = "as written"
"""Name of the one setup of a case file without [setup.NAME]."""

_NEW = "a case file in TOML; `studwell new FILE` writes a commented one"


_NOT_A_FILE = {"directory": "a directory, not a file", "other": "not a plain file", "none": "no such file"}


def read_case(path: str | Path) -> Case:
    """Return the case in a file, read and checked.

    path           : str or Path of a TOML file in UTF-8
    returns        : Case, its setups in the order of the file, in N, mm, MPa, degC, s
    raises BadCase : the file cannot be read, or something in it is not allowed
    """
    return case_from_text(file_text(Path(path)), Path(path).name, Path(path).parent)


def case_from_text(text: str, file: str = "case", folder: Path | None = None) -> Case:
    """Return the case in a TOML text, read and checked.

    text           : str, the whole case file
    file           : str, the name that errors call it by
    folder         : where mesh files that it names lie; None: the current folder
    returns        : Case
    raises BadCase : something in it is not allowed
    """
    tables = parsed(text, file)
    overrides = tables.pop("setup", {})
    spread, bounds = (tables.pop(name, None) for name in WHOLE)
    head = _case_table(tables, file)
    try:
        return _case(tables, head, overrides, spread, bounds, file, folder)
    except BadCase as problem:
        if head.units != "inch" or problem.slug != "cannot-fit":
            raise
        raise _in_inches(problem) from None


def _in_inches(problem: BadCase) -> BadCase:
    """The same refusal with its lengths in inches."""
    said, allowed = (_MM.sub(_inches, text) for text in (problem.problem, problem.allowed))
    changed = BadCase(problem.file, problem.key, problem.value, allowed, problem.slug, said)
    changed.also = problem.also
    return changed


_MM = re.compile(r"(?<![\w.])(-?\d+(?:\.\d+)?(?:e-?\d+)?) mm(?!\w)")


def _inches(found: re.Match[str]) -> str:
    return unmarked(as_text(float(found[1]), "length", "inch", 4))


def _case(
    tables: Tables, head: CaseTable, overrides: Any, spread: Any, bounds: Any, file: str, folder: Path | None
) -> Case:
    """The case of a parsed text, its own table and those that hold for all setups taken out."""
    base = {key: value for key, value in tables.items() if key != "case"}
    _check_top(base, overrides, file)
    _single_washers(base)
    _check_fields(base, Origin(file, base=base, merged=base))
    if not overrides:
        overrides = {ONLY_SETUP: {}}
    meshes = MeshFolder(folder)
    everywhere = overrides | ({BOUNDS: {"washer": bounds.get("washer", [])}} if isinstance(bounds, dict) else {})
    setups = tuple(_setup(name, base, override, everywhere, file, meshes) for name, override in overrides.items())
    _check_materials([base, *overrides.values()], setups, file)
    case = Case(file, head.title, head.notes, head.units, setups)
    if spread is not None:
        case = replace(case, spread=build_spread(spread, case, file, folder))
    if bounds is not None:
        maker = functools.partial(functools.partial, _laid_on, base, everywhere, file, meshes)
        case = replace(case, bounds=build_bounds(bounds, case, base, overrides, file, maker))
    return case


def _check_materials(tables: list[Tables], setups: tuple[Setup, ...], file: str) -> None:
    """Refuse a [material.NAME] that no part is made of, or that takes the name of a stocked one."""
    used = set()
    for setup in setups:
        parts = (setup.boss, setup.stud, setup.nut, *setup.stack, *setup.washers)
        used |= {part.material.name for part in parts if part.material is not None}
    for name in {name: None for one in tables for name in one.get("material", {})}:
        where = f"[material.{quoted(name)}]"
        if name in stock_material_names():
            raise BadCase(file, where, None, "another name", "duplicate-name", "a stocked material has this name")
        if name not in used:
            raise BadCase(file, where, None, f'material = "{name}" in a part', "unknown-name", "no part is made of it")


def file_text(path: Path) -> str:
    """Return the text of a file. Raises BadCase: missing, a directory, empty, not readable, not UTF-8."""
    file = str(path)

    def cannot(problem: str, allowed: str = _NEW) -> BadCase:
        return BadCase(file, "", None, allowed, "file-not-readable", problem)

    try:
        kind = "directory" if path.is_dir() else "file" if path.is_file() else "other" if path.exists() else "none"
        content = path.read_bytes() if kind == "file" else b""
    except (OSError, ValueError) as error:
        raise cannot(f"cannot be read ({getattr(error, 'strerror', None) or error})") from None
    if kind != "file":
        raise cannot(_NOT_A_FILE[kind])
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise cannot(f"line {line}: not UTF-8 text") from None
    if not text.strip():
        raise cannot("the file is empty")
    return text.replace("\r\n", "\n")


def parsed(text: str, file: str) -> Tables:
    """Return the tables of a TOML text. Raises BadCase: not TOML, or a table or key that is there twice."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _not_toml(str(error), text, file) from None
    except RecursionError:
        raise BadCase(file, "", None, _NEW, "not-toml", "nested too deeply") from None


def _not_toml(message: str, text: str, file: str) -> BadCase:
    found = re.search(r"\(at line (\d+), column \d+\)", message)
    number = int(found[1]) if found else len(text.splitlines())
    lines = text.splitlines()
    line = lines[number - 1].strip() if 0 < number <= len(lines) else ""
    where = f"line {number}" + (f", {shown(line)[1:-1]}" if line else "")
    if re.search(r"Cannot (declare|overwrite|mutate)|twice", message):
        allowed = "each table, each setup and each key once; lists such as [[stack]] in double brackets"
        return BadCase(file, where, None, allowed, "duplicate-name", "this name is there already")
    problem = re.sub(r"\s*\(at .*\)$", "", message)
    hint = (
        'texts and quantities in quotes, such as length = "8 mm"'
        if re.search("value|newline|character", problem.lower())
        else _NEW
    )
    return BadCase(file, where, None, hint, "not-toml", f"not TOML: {problem[:1].lower()}{problem[1:]}")


def _case_table(tables: Tables, file: str) -> CaseTable:
    origin = Origin(file, merged=tables)
    if "case" not in tables:
        raise origin.bad(("case",), "missing table", ", ".join(table_keys(CaseTable)), slug="missing-key")
    if not isinstance(tables["case"], dict):
        raise origin.bad(("case",), "a table is needed", slug="wrong-kind")
    version = tables["case"].get("schema")
    if version is not None and (version != SCHEMA or isinstance(version, bool)):
        raise origin.bad(
            ("case", "schema"), "a version of the case file that is not read here", str(SCHEMA), value=version
        )
    try:
        return CaseTable.model_validate(tables["case"])
    except ValidationError as error:
        under = Origin(file, merged=tables)
        found = refused(error, under, beneath=("case",))
        assert found is not None
        raise found from None


def _check_top(base: Tables, overrides: Any, file: str) -> None:
    if not isinstance(overrides, dict):
        raise BadCase(file, "[setup]", overrides, "[setup.NAME] tables", "wrong-kind", "a table is needed")
    known = ["case", "setup", *table_keys(SetupTables), *WHOLE]
    for name, override in {"": base, **overrides}.items():
        place = f"[setup.{quoted(name)}" if name else "["
        if name and not isinstance(override, dict):
            raise BadCase(file, f"{place}]", override, "a table of overrides", "wrong-kind", "a table is needed")
        if any(ord(letter) < 32 for letter in name) or len(name) > 120 or (name != "" and not name.strip()):
            raise BadCase(file, f"{place}]", None, "one line of 1 to 120 characters", problem="not a name")
        for key in override:
            where = f"{place}.{key}]" if name else f"[{key}]"
            if key in WHOLE:
                raise BadCase(file, where, None, f"[{key}] of the whole case", "unknown-key", "not for one setup")
            if key not in known[2:]:
                hint, allowed = did_you_mean(key, known if not name else known[2:])
                raise BadCase(file, where, None, allowed, "unknown-key", f"unknown table{hint}")
    if "" in overrides:
        raise BadCase(file, '[setup.""]', None, "one line of 1 to 120 characters", problem="not a name")


def _single_washers(tables: Tables) -> None:
    """A [washer] in single brackets is a list of one."""
    if isinstance(tables.get("washer"), dict):
        tables["washer"] = [tables["washer"]]


def _check_fields(base: Tables, origin: Origin) -> None:
    """Refuse wrong keys and values in the case's own tables, though a setup may replace them."""
    try:
        SetupTables.model_validate(base)
    except ValidationError as error:
        found = refused(error, origin, ignore_missing=True)
        if found is not None:
            raise found from None


def _laid_on(
    base: Tables,
    overrides: Tables,
    file: str,
    meshes: MeshFolder,
    override: Tables,
    name: str,
    own: Tables,
    check: bool = True,
) -> Setup:
    """Return the setup of this name that its own tables make of another one's; see `Bounds.make`."""
    both = lay_on(override, own, Origin(file, name, override, own, {}))
    return _setup(name, base, both, {**overrides, name: both}, file, meshes, check)


def _setup(
    name: str, base: Tables, override: Tables, overrides: Tables, file: str, meshes: MeshFolder, check: bool = True
) -> Setup:
    _single_washers(override)
    origin = Origin(file, name, base, override, {})
    merged = lay_on(base, override, origin)
    origin = Origin(file, name if override else "", base, override, merged, meshes)
    try:
        tables = SetupTables.model_validate(merged)
    except ValidationError as error:
        found = refused(error, origin)
        assert found is not None
        raise found from None
    setup = build_setup(name, tables, origin, Elsewhere.of([base, *overrides.values()]))
    if not check:
        return setup
    check_setup(setup, origin)
    return fitted_to_mesh(setup, origin)
