"""Cracks in a case: what [crack] and the crack data of an own material say, and what of it cannot be."""

from __future__ import annotations

from dataclasses import dataclass

from studwell.case import model
from studwell.case.overrides import Location, Origin
from studwell.parts.material import Material
from studwell.units import as_text


@dataclass(frozen=True)
class Crack:
    """What the user says of flaws, surfaces and repeats; None where nothing is said.

    flaw                : mm, depth of a starting flaw at the worst place: porosity, a scratch
    inspection_size     : mm, the smallest crack that an inspection is sure to find
    cycles              : how often the history is to be borne; None: without end
    surface_factor      : of the boss's fatigue strength, which is that of machined or as-cast bars as its source says
    residual_stress     : MPa, in the boss's surface, tension positive; pressure is not credited
    failure_probability : that may not be exceeded by the weakest link of the boss
    stud_thread         : how the stud's thread was made; None: as its class's data say
    """

    flaw: float | None = None
    inspection_size: float | None = None
    cycles: float | None = None
    surface_factor: float | None = None
    residual_stress: float | None = None
    failure_probability: float | None = None
    stud_thread: str | None = None


def build_crack(tables: model.SetupTables) -> Crack | None:
    """Return what the case says of cracks, None without a [crack] table."""
    return None if tables.crack is None else Crack(**tables.crack.model_dump())


def check_flaws(crack: Crack | None, floor: float, wall: float, origin: Origin) -> None:
    """Refuse a flaw that is as deep as the floor or the wall that it starts in, mm. Raises BadCase."""
    room = min(floor, wall)
    for key in ("flaw", "inspection_size"):
        size = None if crack is None else getattr(crack, key)
        if size is not None and size >= room:
            what = "floor" if floor <= wall else "wall round the hole"
            raise origin.bad(
                ("crack", key),
                f"as large as the {what}, {as_text(room, 'length', digits=4)}: it is broken through",
                f"less than {as_text(room, 'length', digits=4)}",
                value=origin.given(("crack", key)),
                slug="cannot-fit",
                together=True,
            )


def check_residual(crack: Crack | None, material: Material, origin: Origin) -> None:
    """Refuse a residual stress that the boss's material cannot hold. Raises BadCase."""
    stress = None if crack is None else crack.residual_stress
    if stress is None or material.ultimate_strength is None:
        return
    limit = float(material.ultimate_strength.at(20.0))
    if abs(stress) >= limit:
        most = as_text(limit, "pressure", digits=4)
        raise origin.bad(
            ("crack", "residual_stress"),
            f"not below the tensile strength of {material.name}, {most}",
            f"less than {most} either way",
            value=origin.given(("crack", "residual_stress")),
            slug="cannot-fit",
            together=True,
        )


def own_growth_range(name: str, given: dict[str, object], origin: Origin) -> dict[str, object]:
    """Return an own material's changes with growth_range as growth_low and growth_high. Raises BadCase: it does not rise."""
    values = dict(given)
    ends = values.pop("growth_range", None)
    if isinstance(ends, list):
        low, high = ends
        if not low < high:
            at: Location = ("material", name, "growth_range")
            raise origin.bad(at, f"does not rise: {low:g} to {high:g} MPa*m^0.5", "[from, to], rising")
        values |= {"growth_low": low, "growth_high": high}
    return values


def check_cracking(material: Material, origin: Origin) -> None:
    """Refuse crack data of an own material that contradict each other. Raises BadCase."""

    def bad(key: str, problem: str, allowed: str) -> Exception:
        at: Location = ("material", material.name, key)
        return origin.bad(at, problem, allowed, value=origin.given(at), slug="cannot-fit")

    tough, threshold = material.fracture_toughness, material.threshold
    if tough is not None and threshold is not None and threshold >= tough:
        most = as_text(tough, "toughness", digits=4)
        raise bad("threshold", f"not below the fracture toughness, {most}", f"less than {most}")
    law = {
        key: getattr(material, key) for key in ("growth_coefficient", "growth_exponent", "growth_low", "growth_high")
    }
    missing = [key for key, value in law.items() if value is None]
    if 0 < len(missing) < len(law):
        key = "growth_range" if missing[0] in ("growth_low", "growth_high") else missing[0]
        raise origin.needs(("material", material.name, key), "a law of growth")
    if not missing and tough is not None and law["growth_low"] >= tough:
        most = as_text(tough, "toughness", digits=4)
        raise bad("growth_range", f"begins above the fracture toughness, {most}", f"from less than {most}")
    if not missing and threshold is not None and threshold >= law["growth_high"]:
        most = as_text(law["growth_high"], "toughness", digits=4)
        raise bad("threshold", f"above the whole growth_range, which ends at {most}", f"less than {most}")
    if material.walker_exponent is not None and material.growth_ratio is None:
        raise origin.needs(("material", material.name, "growth_ratio"), "walker_exponent")
    scatter = [material.weibull_strength, material.weibull_volume]
    if sum(value is None for value in scatter) == 1:
        key = "weibull_volume" if material.weibull_volume is None else "weibull_strength"
        raise origin.needs(("material", material.name, key), "the other: a strength belongs to a volume,")
