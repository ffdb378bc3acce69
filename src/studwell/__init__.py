"""Studwell: what a stud in a blind aluminium hole does, and how sure that is."""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType

TYPE_CHECKING = (
    False  # not from typing, which loads longer than all else here: until __main__ runs, Ctrl-C is Python's own
)
if TYPE_CHECKING:
    from typing import Any

    from studwell import fem
    from studwell.api import (
        BackoffResult,
        CardResult,
        ChoiceResult,
        ComparisonResult,
        OddsResult,
        SetupView,
        StudwellError,
        backoff,
        card,
        choose,
        compare,
        floor_sweep,
        hole_ends,
        odds,
        page,
        read_case,
        solve,
        starter_case,
    )

__version__ = "0.1.0"

__all__ = [
    "BackoffResult",
    "CardResult",
    "ChoiceResult",
    "ComparisonResult",
    "OddsResult",
    "SetupView",
    "StudwellError",
    "backoff",
    "card",
    "choose",
    "compare",
    "fem",
    "floor_sweep",
    "hole_ends",
    "odds",
    "page",
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


class _Room(ModuleType):
    """A room whose name is also a call of the public face: sw.odds(case, ...) runs studwell.api.odds."""

    def __call__(self, *arguments: Any, **options: Any) -> Any:
        call = getattr(import_module("studwell.api"), self.__name__.rpartition(".")[2])
        return call(*arguments, **options)


class _Package(ModuleType):
    """The package: importing a room sets it here under its name, where the call of that name must stay callable."""

    def __setattr__(self, name: str, value: Any) -> None:
        if type(value) is ModuleType and name in __all__ and name != "fem":
            value.__class__ = _Room
        super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package
