"""Run the checks and return what came out; no printing."""

from collections.abc import Callable
from dataclasses import dataclass

from studwell.verify.registry import Check, Row, all_checks


@dataclass(frozen=True)
class CheckResult:
    """One check after its run.

    check  : Check
    rows   : tuple of Row, empty where the check stopped with an error
    passed : bool, every row agrees
    error  : str or None, why it stopped
    """

    check: Check
    rows: tuple[Row, ...]
    passed: bool
    error: str | None

    @property
    def fails_the_run(self) -> bool:
        """Whether this result makes the whole run fail: a gate that did not pass."""
        return self.check.gate and not self.passed


def run_check(item: Check) -> CheckResult:
    """Return the result of one check; an exception inside it is caught and told.

    item    : Check
    returns : CheckResult
    """
    try:
        rows = tuple(item())
    except Exception as problem:
        return CheckResult(item, (), False, f"{type(problem).__name__}: {problem}")
    if not rows:
        return CheckResult(item, (), False, "the check compared nothing")
    return CheckResult(item, rows, all(row.agrees for row in rows), None)


def run_checks(quick: bool, progress: Callable[[CheckResult, int, int], None] | None = None) -> list[CheckResult]:
    """Return the results of all checks, in the registry's order.

    quick    : bool, leave out the slow ones
    progress : called after each check with its result, its number from 1, and how many there are
    returns  : list of CheckResult
    """
    chosen = [item for item in all_checks() if not (quick and item.slow)]
    results = []
    for number, item in enumerate(chosen, start=1):
        results.append(run_check(item))
        if progress is not None:
            progress(results[-1], number, len(chosen))
    return results
