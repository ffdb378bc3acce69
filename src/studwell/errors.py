"""The few exceptions that studwell raises, each with a slug that docs/messages.md explains."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

SLUGS = frozenset(
    {
        "bad-mesh",
        "bad-quantity",
        "bad-value",
        "cannot-fit",
        "cannot-write",
        "duplicate-name",
        "extra-missing",
        "file-not-readable",
        "missing-key",
        "no-scheduler",
        "not-converged",
        "not-solved-here",
        "not-toml",
        "out-of-body",
        "out-of-range",
        "port-taken",
        "time-order",
        "unknown-key",
        "unknown-name",
        "unknown-outcome",
        "worker-lost",
        "wrong-kind",
        "wrong-ledger",
    }
)
"""Every slug in use; a test compares this set with the headings of docs/messages.md."""


class StudwellError(Exception):
    """Base of all errors that studwell raises on purpose.

    problem : str, what is wrong, in one plain line
    slug    : str, one of SLUGS: the heading under which docs/messages.md explains it
    raises ValueError : a slug that SLUGS does not hold
    """

    slug = "bad-value"

    def __init__(self, problem: str, slug: str | None = None) -> None:
        self.problem = problem
        if slug is not None:
            self.slug = slug
        if self.slug not in SLUGS:
            raise ValueError(f"slug {self.slug!r} is not one of studwell.errors.SLUGS")
        super().__init__(problem)

    @property
    def line(self) -> str:
        """The message alone, without the pointer to its explanation."""
        return self.problem

    def __str__(self) -> str:
        return f"{self.line}\n  explained in docs/messages.md under {self.slug}"


class BadQuantity(StudwellError, ValueError):
    """A text that is not the quantity asked for: no number, no unit, a unit of another kind, out of range.

    value   : the text or object that was given
    problem : str, what is wrong with it
    allowed : str, what would be accepted
    """

    slug = "bad-quantity"

    def __init__(self, value: object, problem: str, allowed: str = "", slug: str | None = None) -> None:
        self.value = value
        self.allowed = allowed
        super().__init__(problem, slug)

    @property
    def line(self) -> str:
        """The message alone: value, problem, what is allowed."""
        return _join(f"{shown(self.value)}: {self.problem}", self.allowed)


class BadCase(StudwellError, ValueError):
    """A case file, or a value in it, that cannot be used.

    file    : str, the file's name as the user gave it
    key     : str, where in it, such as "[stud] engaged_length" or "" for the whole file
    value   : the offending value, None if there is none to show
    allowed : str, what would be accepted, "" if the problem says it already
    slug    : str, one of SLUGS
    problem : str, what is wrong, "" for "not accepted"
    also    : further refusals of the same file, each shown on a line of its own
    """

    also: tuple[BadCase, ...] = ()

    def __init__(
        self,
        file: object,
        key: str,
        value: object = None,
        allowed: str = "",
        slug: str = "bad-value",
        problem: str = "",
    ) -> None:
        self.file = str(file)
        self.key = key
        self.value = value
        self.allowed = allowed
        super().__init__(problem or "not accepted", slug)

    @property
    def line(self) -> str:
        """The message alone: file: key = value: problem; allowed: what."""
        where = self.key if len(self.key) <= LONGEST_KEY else f"{self.key[: LONGEST_KEY - 43]}...{self.key[-40:]}"
        if where and self.value is not None:
            where = f"{where} = {shown(self.value)}"
        parts = [part for part in (self.file, where, self.problem) if part]
        return _join(": ".join(parts), self.allowed)

    def __str__(self) -> str:
        lines = [self.line, *(other.line for other in self.also)]
        slugs = dict.fromkeys([self.slug, *(other.slug for other in self.also)])
        return "\n".join([*lines, f"  explained in docs/messages.md under {', '.join(slugs)}"])


class BadMesh(StudwellError):
    """A mesh that cannot be solved on: unmatched edges, folded elements, a name that matches no edge."""

    slug = "bad-mesh"


class NotConverged(StudwellError):
    """A solution that was not found; `record` tells stage, time, interface and the last residuals.

    record  : any object whose str() tells what was tried
    problem : str, one plain line; default: str(record)
    """

    slug = "not-converged"

    def __init__(self, record: Any, problem: str = "") -> None:
        self.record = record
        super().__init__(problem or str(record))


class Unknown(StudwellError):
    """An outcome that the model in use cannot know; `reason` says why.

    reason : str
    """

    slug = "unknown-outcome"

    def __init__(self, reason: str) -> None:
        self.reason = reason
        super().__init__(reason)


class UnknownName(StudwellError, KeyError):
    """A name asked of a result that it does not have.

    what    : str, what is named, such as "setup";  name: as it was given;  known: the names that there are
    """

    slug = "unknown-name"

    def __init__(self, what: str, name: object, known: Iterable[str]) -> None:
        self.name = name
        self.known = tuple(known)
        super().__init__(_join(f"no {what} {shown(name)}", ", ".join(self.known) or "none"))


class CannotWrite(StudwellError):
    """A result that could not be written where the user asked."""

    slug = "cannot-write"


class WorkerLost(StudwellError):
    """A block of a long study whose workers died again and again; what was finished is kept."""

    slug = "worker-lost"


class NoScheduler(StudwellError):
    """A cluster that cannot be used: nothing answers, no workers, other versions, or the extra is missing."""

    slug = "no-scheduler"


class OutOfBody(StudwellError):
    """A point asked for that no element of the body holds."""

    slug = "out-of-body"


def reason_of(problem: Exception) -> str:
    """Return what an error says in one plain line, for a row that stays empty because of it."""
    return problem.line if isinstance(problem, StudwellError) else str(problem)


LONGEST_KEY = 180
"""Letters of a place in a file that an error line shows: of a longer one, a name gone wrong, its two ends."""


def shown(value: object, width: int = 60) -> str:
    """Return a value as an error line shows it: text in double quotes, the rest bare, long ones cut.

    value : any object
    width : int, the most characters to show
    """
    text = f'"{value}"' if isinstance(value, str) else str(value)
    text = " ".join(text.split())
    return text if len(text) <= width else text[: width - 3] + "..."


def _join(text: str, allowed: str) -> str:
    return f"{text}; allowed: {allowed}" if allowed else text
