"""`--revolve`: the option reaches the call that writes, and the files open in a general reader."""

from pathlib import Path

import meshio
import pytest
from typer.testing import CliRunner

from studwell import api
from studwell.cli import app

CASES = Path(__file__).parents[2] / "cases"


@pytest.fixture
def written(monkeypatch, comparison):
    """What the commands ask `write` for, nothing being solved or written."""
    asked = []
    monkeypatch.setattr(api, "compare", lambda case, **options: api.ComparisonResult(comparison))
    monkeypatch.setattr(api, "solve", lambda case, setup, **options: api.ComparisonResult(comparison))
    monkeypatch.setattr(api.ComparisonResult, "write", lambda self, folder, **options: asked.append(options))
    return asked


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        (["compare", "--revolve"], {"fields": "moments", "revolved": True}),
        (["compare", "--revolve", "--fields", "none"], {"fields": "none", "revolved": True}),
        (["compare"], {"fields": "moments", "revolved": False}),
        (["solve", "--setup", "bottomed", "--revolve"], {"fields": "moments", "revolved": True}),
    ],
)
def test_the_option_reaches_the_call_that_writes(written, tmp_path, line, expected):
    done = CliRunner().invoke(app, [line[0], str(CASES / "m6-cover.toml"), *line[1:], "--out", str(tmp_path / "out")])
    assert done.exit_code == 0, done.output
    assert {key: written[0][key] for key in expected} == expected


def test_a_result_written_with_revolved_fields_has_five_files_a_setup_more(comparison, tmp_path):
    from dataclasses import replace

    one = api.ComparisonResult(replace(comparison, results=(comparison["bottomed, plain"],)))
    one.write(tmp_path / "out", fields="none", revolved=True)
    files = sorted((tmp_path / "out" / "fields" / "bottomed-plain").iterdir())
    assert [path.name for path in files] == [
        f"{moment}-revolved.vtu" for moment in ("assembled", "coldest", "end", "hottest", "worst-floor", "worst")
    ]
    found = meshio.read(files[0])
    assert "body:stud" in found.cell_data and found.points.shape[1] == 3
