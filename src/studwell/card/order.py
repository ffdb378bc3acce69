"""In which order the nuts of a ring of studs are tightened: across, never to the next one while another is free."""

from __future__ import annotations


def distance(first: int, second: int, count: int) -> int:
    """Return how many places apart two studs of a ring stand, the shorter way round."""
    apart = abs(first - second) % count
    return min(apart, count - apart)


def crosswise(count: int) -> tuple[int, ...]:
    """Return the places (0 at the top, then clockwise) in the order of tightening.

    Each next one lies opposite if that is free, else as far as can be from all that are tight, then from the last one;
    never beside the last one while one further off is free.
    raises ValueError : fewer than one stud

    Common practice, no source.
    """
    if count < 1:
        raise ValueError(f"a pattern has one stud or more, not {count}")
    order = [0]
    while len(order) < count:
        last = order[-1]
        free = [place for place in range(count) if place not in order]
        opposite = [place for place in free if 2 * distance(place, last, count) == count]
        order.append(opposite[0] if opposite else max(free, key=lambda place: (*_far(place, order, count), -place)))
    return tuple(order)


def _far(place: int, order: list[int], count: int) -> tuple[int, int]:
    # a neighbour of the last one is the least in both, so that any other free place goes before it
    return min(distance(place, each, count) for each in order), distance(place, order[-1], count)
