"""What a check is, how a function becomes one, and where all of them are found."""

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from importlib.util import find_spec
from math import isfinite
from types import ModuleType

from studwell.data import STATUSES
from studwell.verify import CHECK_MODULES


@dataclass(frozen=True)
class Row:
    """One figure of a check.

    quantity           : str, what is compared
    expected, obtained : float, the published or closed-form figure and ours, in unit
    tolerance          : float, largest difference allowed, in unit
    unit               : str
    """

    quantity: str
    expected: float
    obtained: float
    tolerance: float
    unit: str

    @property
    def agrees(self) -> bool:
        """Whether the two figures differ by no more than the tolerance; never true for a figure not finite."""
        return isfinite(self.obtained) and abs(self.obtained - self.expected) <= self.tolerance


@dataclass(frozen=True)
class Check:
    """One check: what it compares, where the expected figures come from, and the function that does it.

    slug      : str, unique, lower case with hyphens
    subject   : str, the group it is listed under
    status    : "confirmed", "computed" or "from memory": how well the expected figures are known
    tolerance : str, for the table
    slow      : bool, left out of a quick run
    gate      : bool, whether disagreement fails the run; never for figures from memory
    """

    slug: str
    subject: str
    title: str
    source: str
    status: str
    tolerance: str
    slow: bool
    gate: bool
    function: Callable[[], list[Row]]

    def __call__(self) -> list[Row]:
        """Return the rows of the check, computed anew."""
        return self.function()


def check(
    slug: str,
    *,
    subject: str,
    title: str,
    source: str,
    status: str,
    tolerance: str,
    slow: bool = False,
    gate: bool = True,
) -> Callable[[Callable[[], list[Row]]], Check]:
    """Return a decorator that turns a function without arguments into a Check.

    arguments         : the fields of Check; gate is dropped where the status is "from memory"
    returns           : decorator
    raises ValueError : status not one of data.STATUSES, or an empty text
    """
    if status not in STATUSES:
        raise ValueError(f"check {slug!r}: status must be one of {', '.join(STATUSES)}, not {status!r}")
    if not all((slug, subject, title, source, tolerance)):
        raise ValueError(f"check {slug!r}: every text must be filled in")

    def decorate(function: Callable[[], list[Row]]) -> Check:
        return Check(slug, subject, title, source, status, tolerance, slow, gate and status != "from memory", function)

    return decorate


def check_modules() -> tuple[ModuleType, ...]:
    """Return the check modules that are present, in the order of CHECK_MODULES.

    returns : tuple of modules
    """
    package = __name__.rpartition(".")[0]
    names = [f"{package}.{name}" for name in CHECK_MODULES]
    return tuple(import_module(name) for name in names if find_spec(name) is not None)


def all_checks() -> tuple[Check, ...]:
    """Return every check, in the order of modules and of definition.

    returns           : tuple of Check
    raises ValueError : two checks share a slug
    """
    found = [item for module in check_modules() for item in vars(module).values() if isinstance(item, Check)]
    slugs = [item.slug for item in found]
    doubled = sorted({slug for slug in slugs if slugs.count(slug) > 1})
    if doubled:
        raise ValueError(f"two checks share the name {doubled[0]!r}")
    return tuple(found)


def relative(quantity: str, expected: float, obtained: float, share: float, unit: str) -> Row:
    """Return a row whose tolerance is a share of the expected figure.

    quantity, unit     : str
    expected, obtained : float (or array of one number), in unit
    share              : float, 0.01 for 1 %
    returns            : Row
    """
    return Row(quantity, float(expected), float(obtained), abs(float(expected)) * share, unit)


def printed(quantity: str, figure: str, obtained: float, unit: str) -> Row:
    """Return a row that must agree with a printed figure to half a unit of its last place.

    quantity, unit : str
    figure         : str, exactly as printed ("36.6"); its places set the tolerance
    obtained       : float (or array of one number), in unit
    returns        : Row
    """
    places = len(figure.partition(".")[2])
    return Row(quantity, float(figure), float(obtained), 0.5 * 10.0**-places * (1.0 + 1e-9), unit)
