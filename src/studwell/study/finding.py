"""One finding of a study: its kind and its plain words."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Finding:
    """One finding. kind: 'governing', 'spring', 'bottoming', 'heat', 'gap', 'caution', 'phase', 'difference', 'cycles',
    'zone', 'settling', 're-tightening', 'repair', 'insert', 'threads', 'pocket', 'seat',
    'floor'; text: plain words."""

    kind: str
    text: str
