"""Build the records of washers and nut from their tables, stocked or with dimensions of their own."""

from __future__ import annotations

from studwell.case import model
from studwell.case.overrides import Location, Origin
from studwell.case.records import Nut, PlainWasher, SpringWasher
from studwell.case.stock import (
    find_material,
    find_nut,
    find_plain_washer,
    find_spring,
    find_thread,
    nut_sizes,
    thread_size,
)
from studwell.data import assumption, table
from studwell.parts.nut import NutRow
from studwell.parts.spring import SpringRow
from studwell.parts.thread import Thread
from studwell.parts.washer import PlainWasherRow


def build_washer(number: int, tables: model.SetupTables, origin: Origin) -> PlainWasher | SpringWasher:
    washer = tables.washer[number]
    at: Location = ("washer", number)
    spring = washer.kind == "spring"
    if not spring:
        for key in ("cone_height", "parallel", "series", "orientation", "edge_friction", "surface_friction"):
            if key in washer.model_fields_set:
                raise origin.excludes((*at, key), 'kind = "plain"')
    row: SpringRow | PlainWasherRow | None = None
    if washer.size is not None:
        row = (find_spring if spring else find_plain_washer)(washer.size, (*at, "size"), origin)
    sizes: dict[str, float] = {}
    for key in ("inner_diameter", "outer_diameter", "thickness", *(("cone_height",) if spring else ())):
        own = getattr(washer, key)
        if own is None and row is None:
            raise origin.bad(
                (*at, key),
                "missing: give size, or all dimensions",
                'a length with its unit, such as "8 mm"',
                slug="missing-key",
            )
        sizes[key] = own if own is not None else float(getattr(row, key))
    shelf = table("springs")["disc"] if spring else table("plain_washers")["plain"]
    stocked = str(row.material if row is not None else shelf["material"])
    material = find_material(washer.material or stocked, tables.material, (*at, "material"), origin)
    if not spring:
        return PlainWasher(**sizes, material=material)
    return SpringWasher(
        name=washer.size or f"{sizes['outer_diameter']:g}x{sizes['inner_diameter']:g}x{sizes['thickness']:g}",
        **sizes,
        **_cone_band(washer.cone_height, row, sizes["cone_height"]),
        parallel=washer.parallel,
        series=washer.series,
        orientation=washer.orientation,
        edge_friction=_given(washer.edge_friction, "spring_edge_friction"),
        surface_friction=_given(washer.surface_friction, "spring_surface_friction"),
        material=material,
    )


def build_nut(tables: model.SetupTables, nut_thread: Thread, origin: Origin) -> Nut:
    nut = tables.nut
    thread = find_thread(nut.thread, ("nut", "thread"), origin) if nut.thread else nut_thread
    size = thread_size(nut_thread)
    at = ("nut", "thread" if nut.thread else "size")
    if thread != nut_thread or (nut.size is not None and nut.size != size):
        if nut.size is not None and thread == nut_thread:
            find_nut(nut.kind, nut.size, at, origin)
        raise origin.bad(
            at,
            f"the nut does not fit the stud, whose nut end is {nut_thread.name}",
            f'"{size}"' if at[1] == "size" else f'"{nut_thread.name}"',
            value=origin.given(at),
            slug="cannot-fit",
            together=True,
        )
    if nut.kind == "hex" and nut.usable_thread_depth is not None:
        raise origin.excludes(("nut", "usable_thread_depth"), 'kind = "hex"')
    if nut.kind == "hex" and nut.overall_height is not None:
        raise origin.excludes(("nut", "overall_height"), 'kind = "hex"')
    row = find_nut(nut.kind, size, ("nut", "size"), origin) if size in nut_sizes(nut.kind) else None
    sizes = {key: _own(key, nut, row, origin) for key in ("height", "bearing_diameter", "width_across_flats")}
    if nut.kind == "domed":
        sizes |= {key: _own(key, nut, row, origin) for key in ("usable_thread_depth", "overall_height")}
    else:
        sizes |= {"usable_thread_depth": sizes["height"], "overall_height": sizes["height"]}
    inner = nut.bearing_inner_diameter or (row.countersink_diameter if row else nut_thread.nominal_diameter)
    stocked = row.material if row else str(table("nuts")[nut.kind]["material"])
    return Nut(
        kind=nut.kind,
        thread=nut_thread,
        **sizes,
        bearing_inner_diameter=inner,
        material=find_material(nut.material or stocked, tables.material, ("nut", "material"), origin),
    )


def _own(key: str, nut: model.NutTable, row: NutRow | None, origin: Origin) -> float:
    own = getattr(nut, key)
    if own is None and row is None:
        raise origin.bad(
            ("nut", key),
            f"missing: no {nut.kind} nut of this thread is in stock",
            'a length with its unit, such as "8 mm"',
            slug="missing-key",
        )
    return float(getattr(row, key)) if own is None else float(own)


def _cone_band(own: float | None, row: SpringRow | PlainWasherRow | None, cone_height: float) -> dict[str, float]:
    """Return the band of the cone height: the stock row's, or none where the user gives the height."""
    if own is None and isinstance(row, SpringRow):
        return {"cone_height_min": row.cone_height_min, "cone_height_max": row.cone_height_max}
    return {"cone_height_min": cone_height, "cone_height_max": cone_height}


def _given(value: float | None, name: str) -> float:
    return assumption(name) if value is None else value
