"""Studwell: what a stud in a blind aluminium hole does, and how sure that is."""

from studwell import fem
from studwell.api import ComparisonResult, SetupView, compare, read_case, solve, starter_case

__version__ = "0.1.0"

__all__ = ["ComparisonResult", "SetupView", "compare", "fem", "read_case", "solve", "starter_case"]
