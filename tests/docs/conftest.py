"""The tool that runs the examples of the guides, loaded from its file, since it belongs to no package."""

import importlib.util
import sys
from pathlib import Path

import pytest

PLACE = Path(__file__).parents[2] / "tools" / "guides.py"


@pytest.fixture(scope="session")
def guides():
    """The module `tools/guides.py`."""
    if "guides" not in sys.modules:
        spec = importlib.util.spec_from_file_location("guides", PLACE)
        module = importlib.util.module_from_spec(spec)
        sys.modules["guides"] = module
        spec.loader.exec_module(module)
    return sys.modules["guides"]
