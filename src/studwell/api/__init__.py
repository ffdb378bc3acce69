"""The public face: one call a study, results dressed with units, tables and figures."""

from studwell.api.choice import ChoiceResult, choose
from studwell.api.comparison import ComparisonResult, compare, solve
from studwell.api.floors import floor_sweep, hole_ends
from studwell.api.job_card import CardResult, card
from studwell.api.live_page import page
from studwell.api.meshes import mesh_study, section
from studwell.api.odds_result import OddsResult, odds
from studwell.api.review import BackoffResult, backoff
from studwell.api.setup_view import SetupView
from studwell.case import Case, read_case, starter_case
from studwell.errors import StudwellError

__all__ = [
    "BackoffResult",
    "CardResult",
    "Case",
    "ChoiceResult",
    "ComparisonResult",
    "OddsResult",
    "SetupView",
    "StudwellError",
    "backoff",
    "card",
    "choose",
    "compare",
    "floor_sweep",
    "hole_ends",
    "mesh_study",
    "odds",
    "page",
    "read_case",
    "section",
    "solve",
    "starter_case",
]
