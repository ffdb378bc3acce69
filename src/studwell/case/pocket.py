"""Build the record of what is shut in under the stud's tip: a stocked liquid, one of the user's own, or nothing."""

from __future__ import annotations

from studwell.case import model
from studwell.case.overrides import Location, Origin
from studwell.case.records import Pocket
from studwell.parts.fluid import fluid_with, stock_fluid

WITHOUT_LIQUID = ("empty", "vented")
OWN = "own fluid"
_NEEDED = (
    ("fill", "a bare number, 0 to 1: the share of the pocket that the liquid takes"),
    ("fill_at", '"first contact" or "as fitted"'),
    ("seal", '"sealed", "leaking" or "vented"'),
)
_OF_LIQUIDS = ("fill", "fill_at", "seal", "leak_time", "bulk_modulus", "expansion")


def build_pocket(tables: model.SetupTables, origin: Origin) -> Pocket:
    """Return what is in a setup's pocket.

    raises BadCase : keys of a liquid without one, a liquid without how much of it and how tight it is, an own liquid
                     without its stiffness or expansion, a leak without its time
    """
    given = tables.pocket
    contents = given.contents
    because = f'contents = "{contents}"'
    if contents in WITHOUT_LIQUID:
        for key in _OF_LIQUIDS:
            if getattr(given, key) is not None:
                raise origin.excludes(("pocket", key), because)
        return Pocket(contents)
    for key, allowed in _NEEDED:
        if getattr(given, key) is None:
            raise origin.needs(("pocket", key), because, allowed)
    assert given.fill is not None and given.fill_at is not None and given.seal is not None
    at: Location = ("pocket", "leak_time")
    if given.seal == "leaking" and given.leak_time is None:
        raise origin.needs(at, 'seal = "leaking"', 'the time in which the pressure falls to 1/e, such as "5 min"')
    if given.seal != "leaking" and given.leak_time is not None:
        raise origin.excludes(at, f'seal = "{given.seal}"')
    if contents == OWN:
        if given.bulk_modulus is None:
            raise origin.needs(("pocket", "bulk_modulus"), because, 'a stiffness of the liquid, such as "1500 MPa"')
        if given.expansion is None:
            raise origin.needs(("pocket", "expansion"), because, 'an expansion of its volume, such as "7e-4 /K"')
        fluid = fluid_with(OWN, None, given.bulk_modulus, given.expansion)
    else:
        fluid = fluid_with(contents, stock_fluid(contents), given.bulk_modulus, given.expansion)
    return Pocket(contents, given.fill, given.fill_at, given.seal, given.leak_time, fluid)
