"""Studwell: what a stud in a blind aluminium hole does, and how sure that is."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from studwell import fem
    from studwell.api import (
        BackoffResult,
        ChoiceResult,
        ComparisonResult,
        OddsResult,
        SetupView,
        backoff,
        choose,
        compare,
        odds,
        read_case,
        solve,
        starter_case,
    )

__version__ = "0.1.0"

__all__ = [
    "BackoffResult",
    "ChoiceResult",
    "ComparisonResult",
    "OddsResult",
    "SetupView",
    "backoff",
    "choose",
    "compare",
    "fem",
    "odds",
    "read_case",
    "solve",
    "starter_case",
]


def __dir__() -> list[str]:
    return [*__all__, "__version__"]


def __getattr__(name: str) -> Any:
    # what the public face needs is loaded when it is first asked for: `studwell --help` should not wait for it
    if name == "fem":
        return import_module("studwell.fem")
    if name in __all__:
        return getattr(import_module("studwell.api"), name)
    raise AttributeError(f"module 'studwell' has no attribute {name!r}")
