"""A text that was written in metric and in inch units from the same values, so that nothing in it is ever converted."""

from __future__ import annotations

from collections.abc import Callable, Iterable


class InBoth(str):
    """A text in metric units that carries the same text in inch units; everywhere else it is a plain text.

    Whatever makes another text of it (slices, joins, f-strings) leaves its inch spelling behind: `in_both` and `joined` keep
    it.
    """

    inch: str

    def __new__(cls, metric: str, inch: str) -> InBoth:
        text = super().__new__(cls, metric)
        text.inch = inch
        return text

    def __getnewargs__(self) -> tuple[str, str]:  # type: ignore[override]
        return str(self), self.inch

    def __reduce__(self) -> tuple[type[InBoth], tuple[str, str]]:
        return InBoth, self.__getnewargs__()


def in_both(write: Callable[[str], str]) -> InBoth:
    """Return what `write(system)` says in "metric" and in "inch" units."""
    return InBoth(spelling(write("metric"), "metric"), spelling(write("inch"), "inch"))


def spelling(text: str, system: str) -> str:
    """Return a text as it was written in "metric" or "inch" units; a plain text, whose system is not known, as it is."""
    if isinstance(text, InBoth):
        return text.inch if system == "inch" else str.__str__(text)
    return text


def joined(separator: str, texts: Iterable[str]) -> InBoth:
    """Return texts joined in either system."""
    parts = tuple(texts)
    return in_both(lambda system: separator.join(spelling(part, system) for part in parts))
