"""From what the case leaves open to the best compromises and one recommended setup."""

from studwell.choose.study import Choice, choose

__all__ = ["Choice", "choose"]
