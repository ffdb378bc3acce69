"""A case's [spread] carried along to another setting: the same scatter about another value."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from studwell.case.records import Setup
from studwell.case.spread_keys import SpreadKey, own_value
from studwell.case.spread_record import Distribution, Spread
from studwell.errors import BadCase
from studwell.odds.spread import marginal

NEXT_TO_NOTHING = 1e-6
"""Share of a distribution's width by which it is kept off a value that its key must exceed."""


def carried(
    spread: Spread, keys: Mapping[str, SpreadKey], starts: Sequence[Setup], setup: Setup
) -> tuple[Spread, tuple[str, ...]]:
    """Return a spread whose distributions lie about a setup's own values as they lay about those of the case.

    starts  : setups for which the case states its spread; the first that has a value counts
    returns : Spread, and the keys of which a stated mean, mode, end or list was moved

    What a distribution takes from the setup moves with it anyway; its width stays. A torque of 14 N m that scatters from 12
    to 15 N m is taken to scatter from 8 to 11 N m where 10 N m are set. An end that its key cannot have is cut off.
    """
    inputs, moved = [], []
    for name, given in spread.inputs:
        key = keys[name]
        own = own_value(key, setup)
        stated = next((value for start in starts if (value := own_value(key, start)) is not None), None)
        shifted = given if own is None or stated is None or own == stated else _shifted(given, key, own - stated, setup)
        if shifted != given:
            moved.append(name)
        inputs.append((name, shifted))
    return replace(spread, inputs=tuple(inputs)), tuple(moved)


def _shifted(given: Distribution, key: SpreadKey, by: float, setup: Setup) -> Distribution:
    """A distribution moved by an amount, cut off at what its key may be where it would be refused otherwise."""

    def moved(value: float | None) -> float | None:
        return None if value is None else value + by

    low, high = moved(given.low), moved(given.high)
    width = abs((high or 0.0) - (low or 0.0)) + (given.sd or 0.0)
    least = None if key.least is None else key.least + (NEXT_TO_NOTHING * width if key.above else 0.0)
    if low is not None and least is not None:
        low = max(low, least)
    if high is not None and key.most is not None:
        high = min(high, key.most)
    values = tuple(value + by for value in given.values)
    found = replace(
        given,
        mean=moved(given.mean),
        mode=moved(given.mode),
        low=low,
        high=high,
        values=tuple(value for value in values if key.allows(value)) or values,
    )
    try:
        marginal(key, found, setup)
    except BadCase:
        return replace(found, low=least if low is None else low, high=key.most if high is None else high)
    return found
