"""Published tables, one TOML file a source."""

import tomllib
from pathlib import Path

import pytest


@pytest.fixture
def published():
    def read(name):
        with (Path(__file__).parents[1] / "published" / f"{name}.toml").open("rb") as file:
            return tomllib.load(file)

    return read
