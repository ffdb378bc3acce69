"""The mesh drawing: dimensions that it writes are those of the case."""

from __future__ import annotations

import pytest

from studwell.show.mesh_drawing import plot_floor_mesh, plot_mesh, quality_line


@pytest.fixture(scope="module")
def built(comparison):
    return comparison["bottomed, plain"].built


def written(ax) -> str:
    return " | ".join(text.get_text().replace("\n", " ") for text in ax.texts)


@pytest.mark.parametrize(
    "dimension",
    [
        "hole depth 15 mm",
        "floor 6 mm",
        "engaged 12 mm",
        "boss dia. 28 mm",
        "bore dia. 6.65 mm (minor diameter)",
        "grip 62.1 mm",
        "barrel, dia. 22 mm",
        "nut, 13 mm across flats",
    ],
)
def test_the_drawing_writes_the_dimension(built, dimension):
    assert dimension in written(plot_mesh(built))


def test_the_drawing_writes_inches_when_asked(built):
    text = written(plot_mesh(built, units="inch"))
    assert "hole depth 0.591\N{NO-BREAK SPACE}in" in text and " mm" not in text


def test_the_floor_drawing_names_its_fillet(built):
    assert "0.3 mm" in plot_floor_mesh(built).get_title(loc="left")


def test_the_quality_line_counts_what_is_there(built):
    elements = sum(body.spec.mesh.n_elements for body in built.bodies)
    line = quality_line(built)
    assert f"{elements} nine-node" in line and f"{built.unknowns} unknowns" in line and "0 folded" in line
