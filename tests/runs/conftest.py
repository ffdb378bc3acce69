import importlib.util
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent


@pytest.fixture(scope="session")
def toy():
    """The module with the toy plan, under the name by which worker processes import it too."""
    if "toy_plan" not in sys.modules:
        spec = importlib.util.spec_from_file_location("toy_plan", HERE / "toy_plan.py")
        module = importlib.util.module_from_spec(spec)
        sys.modules["toy_plan"] = module
        spec.loader.exec_module(module)
    return sys.modules["toy_plan"]


@pytest.fixture(scope="session")
def digest(toy, tmp_path_factory):
    """The digest of the toy study done in one go in one process."""
    from studwell.runs import execute

    return execute(toy.Toy(), tmp_path_factory.mktemp("toy") / "rows", workers=1).rows.digest()
