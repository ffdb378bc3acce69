"""A fingerprint of a case's inputs: the same parsed values, the same text, however the file is laid out."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict

from studwell.case.records import Case


def inputs_sha256(case: Case) -> str:
    """Return the SHA-256 of a case's values in canonical form, 64 hexadecimal digits.

    case : Case; comments, order of keys, spelling of units and the file's name do not matter; stock values do
    """
    values = asdict(case)
    del values["file"]
    text = json.dumps(values, sort_keys=True, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode("ascii")).hexdigest()
