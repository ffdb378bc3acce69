"""Look up what a case names in the stock, and refuse what is not there with the nearest name."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from studwell.case.crack import check_cracking, own_growth_range
from studwell.case.model import MaterialTable
from studwell.case.overrides import Location, Origin, did_you_mean
from studwell.data import table
from studwell.parts.gasket import Gasket, stock_gasket
from studwell.parts.material import Material, material_from, stock_material, stock_material_names
from studwell.parts.nut import NutRow, stock_nut, stock_nut_names
from studwell.parts.spring import SpringRow, stock_spring
from studwell.parts.thread import Thread, parse_thread
from studwell.parts.threadlocker import ThreadlockerGrade, stock_threadlocker, stock_threadlocker_names
from studwell.parts.washer import PlainWasherRow, stock_plain_washer, stock_plain_washer_names
from studwell.units import as_text


def find_thread(text: str, at: Location, origin: Origin) -> Thread:
    """Return the thread that a designation names. Raises BadCase: not a thread in stock."""
    try:
        return parse_thread(text)
    except ValueError as error:
        _, _, allowed = str(error).partition("; known are ")
        hint, names = did_you_mean(text, _thread_names())
        problem = f"not a thread in stock{hint}"
        raise origin.bad(at, problem, names and allowed, value=text, slug="unknown-name") from None


def find_material(name: str, own: dict[str, MaterialTable], at: Location, origin: Origin) -> Material:
    """Return a material: the case's own [material.NAME], else a stocked one. Raises BadCase: neither."""
    if name in own:
        changes = own[name].model_dump(exclude={"base"}, exclude_none=True)
        base = own[name].base
        _in_stock(base, stock_material_names(), "material", ("material", name, "base"), origin)
        changes = own_growth_range(name, changes, origin)
        try:
            made = material_from(name, base, changes)
        except ValueError as error:
            raise origin.bad(("material", name), str(error)) from None
        _check_strengths(made, origin)
        _check_fatigue(made, origin)
        check_cracking(made, origin)
        return made
    _in_stock(name, [*own, *stock_material_names()], "material", at, origin)
    return stock_material(name)


ROOM = 20.0
"""degC at which strengths are compared: an own one is stated there, and held constant where its base's falls off."""


def _check_strengths(material: Material, origin: Origin) -> None:
    """Refuse an own material that breaks before it yields. Raises BadCase."""
    if material.yield_strength is None or material.ultimate_strength is None:
        return
    yields, breaks = float(material.yield_strength.at(ROOM)), float(material.ultimate_strength.at(ROOM))
    if breaks >= yields:
        return
    at: Location = ("material", material.name, "ultimate_strength")
    limit = as_text(yields, "pressure", digits=4)
    problem, allowed = f"below the yield strength, {limit}", f"at least {limit}"
    if origin.given(at) is None:
        at, limit = ("material", material.name, "yield_strength"), as_text(breaks, "pressure", digits=4)
        problem, allowed = f"above the ultimate strength, {limit}", f"at most {limit}"
    raise origin.bad(at, problem, allowed, value=origin.given(at), slug="cannot-fit")


def _check_fatigue(material: Material, origin: Origin) -> None:
    """Refuse an own material that stands as much in repeated bending as at once. Raises BadCase."""
    if material.fatigue_strength is None or material.ultimate_strength is None:
        return
    breaks = float(material.ultimate_strength.at(ROOM))
    if material.fatigue_strength < breaks:
        return
    at: Location = ("material", material.name, "fatigue_strength")
    limit = as_text(breaks, "pressure", digits=4)
    problem, allowed = f"not below the ultimate strength, {limit}", f"less than {limit}"
    if origin.given(at) is None:
        at, limit = (
            ("material", material.name, "ultimate_strength"),
            as_text(material.fatigue_strength, "pressure", digits=4),
        )
        problem, allowed = f"not above its base's fatigue_strength, {limit}", f"more than {limit}"
    raise origin.bad(at, problem, allowed, value=origin.given(at), slug="cannot-fit")


def find_class(name: str, at: Location, origin: Origin) -> str:
    """Return the stock material of a property class. Raises BadCase: not in stock."""
    rows = table("property_classes")["classes"]["rows"]
    _in_stock(name, list(rows), "property class", at, origin)
    return str(rows[name]["material"])


def find_gasket(name: str, at: Location, origin: Origin) -> Gasket:
    """Return a stocked gasket. Raises BadCase: not in stock."""
    _in_stock(name, list(table("gaskets")), "gasket", at, origin)
    return stock_gasket(name)


def find_plain_washer(size: str, at: Location, origin: Origin) -> PlainWasherRow:
    """Return a stocked plain washer. Raises BadCase: not in stock."""
    _in_stock(size, stock_plain_washer_names(), "plain washer", at, origin)
    return stock_plain_washer(size)


def find_spring(size: str, at: Location, origin: Origin) -> SpringRow:
    """Return a stocked disc spring or conical spring washer. Raises BadCase: not in stock."""
    springs = table("springs")
    _in_stock(size, [name for owner in springs.values() for name in owner["rows"]], "spring", at, origin)
    return stock_spring(size)


def find_threadlocker(name: str, at: Location, origin: Origin) -> ThreadlockerGrade:
    """Return a stocked grade of threadlocker. Raises BadCase: not in stock."""
    _in_stock(name, stock_threadlocker_names(), "threadlocker", at, origin)
    return stock_threadlocker(name)


def find_nut(kind: str, size: str, at: Location, origin: Origin) -> NutRow:
    """Return a stocked nut. Raises BadCase: not in stock."""
    _in_stock(size, stock_nut_names(kind), f"{kind} nut", at, origin)
    return stock_nut(kind, size)


def nut_sizes(kind: str) -> tuple[str, ...]:
    """Return the sizes of a kind of nut in stock."""
    return stock_nut_names(kind)


def thread_size(thread: Thread) -> str:
    """Return a thread's size without its pitch, as nuts and washers are called: "M8", "5/16"."""
    separator = "-" if thread.form == "unified" else "x"
    return thread.name.split(separator)[0]


def _in_stock(name: str, known: Sequence[str], what: str, at: Location, origin: Origin) -> None:
    if name not in known:
        hint, allowed = did_you_mean(name, list(known))
        raise origin.bad(at, f"no {what} of this name in stock{hint}", allowed, value=name, slug="unknown-name")


def _thread_names() -> list[str]:
    threads: Any = table("threads")
    names = [f"{size}x{pitch:g}" for size, pitches in threads["metric"]["rows"].items() for pitch in pitches]
    for size, counts in threads["unified"]["rows"].items():
        names += [f"{size}-{count} {series}" for count, series in zip(counts, ("UNC", "UNF"), strict=True)]
    return names
