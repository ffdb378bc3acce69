"""Long studies in blocks: what is asked (a plan), what is done (a ledger on disk), and who does it (processes, a cluster)."""

from studwell.runs.execute import Pace, Run, execute
from studwell.runs.ledger import Ledger, LedgerRows, read_ledger
from studwell.runs.plan import Plan, block_count, block_samples

__all__ = ["Ledger", "LedgerRows", "Pace", "Plan", "Run", "block_count", "block_samples", "execute", "read_ledger"]
