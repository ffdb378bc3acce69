"""Build the record of [bounds] from its table, every refusal a BadCase that names the place."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from pydantic import ValidationError

from studwell.case.bounds_model import BoundsTable, WasherBoundTable
from studwell.case.bounds_record import Bounds, WasherChoice
from studwell.case.overrides import Location, Origin, Tables, did_you_mean
from studwell.case.records import Case
from studwell.case.refusals import refused
from studwell.case.stock import find_plain_washer, find_spring
from studwell.errors import BadCase

NOTHING = "[bounds] torque, seating_torque, back_off, protrusion, insert_length, washer or nut"


def build_bounds(
    table: Any, case: Case, base: Tables, overrides: Mapping[str, Any], file: str, maker: Callable[..., Any]
) -> Bounds:
    """Return what a [bounds] table leaves open.

    table     : as parsed
    case      : Case, without its bounds;  base: the case's own tables;  overrides: name of each setup -> its tables
    maker     : (override of the setup) -> function that makes a Setup of overrides laid on it
    raises BadCase : empty, an unknown key, a range the wrong way round, a part that is not in stock, no such setup
    """
    if isinstance(table, dict) and isinstance(table.get("washer"), dict):
        table = {**table, "washer": [table["washer"]]}
    origin = Origin(file, base={"bounds": table}, merged={"bounds": table})
    if not isinstance(table, dict):
        raise origin.bad(("bounds",), "a table is needed", value=table, slug="wrong-kind")
    try:
        read = BoundsTable.model_validate(table)
    except ValidationError as error:
        found = refused(error, origin, beneath=("bounds",))
        assert found is not None
        raise found from None
    if not set(table) - {"setup"}:
        raise BadCase(file, "[bounds]", None, NOTHING, "missing-key", "nothing to choose from")
    name = case.setups[0].name if read.setup is None else read.setup
    names = [setup.name for setup in case.setups]
    if name not in names:
        hint, _ = did_you_mean(name, names)
        listed = ", ".join(f'"{each}"' for each in names)
        raise origin.bad(("bounds", "setup"), f"no such setup{hint}", listed, value=name, slug="unknown-name")
    setup = case.setup(name)
    if read.insert_length is not None and setup.boss.insert is None:
        raise origin.bad(
            ("bounds", "insert_length"),
            f'setup "{name}" has no insert',
            "a setup with [boss.insert]",
            slug="missing-key",
        )
    washers: list[WasherChoice] = []
    for number, washer in enumerate(read.washer or ()):
        washers += _choices(washer, ("bounds", "washer", number), origin)
    return Bounds(
        setup=name,
        torque=read.torque,
        seating_torque=read.seating_torque,
        back_off=read.back_off,
        protrusion=read.protrusion,
        inserts=tuple(dict.fromkeys(read.insert_length or ())),
        washers=tuple(dict.fromkeys(washers)),
        nuts=tuple(dict.fromkeys(read.nut or ())),
        make=maker(overrides[name]),
        override=overrides[name],
        plain=tuple(
            washer for washer in overrides[name].get("washer", base.get("washer", [])) if washer["kind"] == "plain"
        ),
    )


def _choices(washer: WasherBoundTable, at: Location, origin: Origin) -> list[WasherChoice]:
    if washer.kind == "plain":
        for key in ("on", "parallel", "series"):
            if key in washer.model_fields_set:
                raise origin.bad((*at, key), 'does not go with kind = "plain"', "one of the two")
        if washer.size is not None:
            find_plain_washer(washer.size, (*at, "size"), origin)
        return [WasherChoice(size=washer.size or "")]
    if washer.size is None:
        raise origin.bad(
            (*at, "size"), 'missing: kind = "spring" needs it', "a name of `studwell stock springs`", slug="missing-key"
        )
    find_spring(washer.size, (*at, "size"), origin)
    if washer.on is not None:
        find_plain_washer(washer.on, (*at, "on"), origin)
    return [
        WasherChoice(washer.size, parallel, series, washer.on or "")
        for parallel in washer.parallel
        for series in washer.series
    ]
