"""What the public face refuses before it solves or draws anything, each with what is allowed."""

import numpy as np
import pytest
from matplotlib import pyplot

from studwell import api
from studwell.errors import CannotWrite, StudwellError, UnknownName

PLAIN = "bottomed, plain"

CALLS = {
    "compare": lambda case, density, folder: api.compare(case, refinement=density),
    "solve": lambda case, density, folder: api.solve(case, PLAIN, refinement=density),
    "section": lambda case, density, folder: api.section(case.setups[0], refinement=density),
    "choose": lambda case, density, folder: api.choose(case, refinement=density),
    "backoff": lambda case, density, folder: api.backoff(case, refinement=density),
    "odds": lambda case, density, folder: api.odds(case, 8, folder=folder, refinement=density),
    "card": lambda case, density, folder: api.card(case, PLAIN, refinement=density),
    "page": lambda case, density, folder: api.page(case, port=0, refinement=density),
    "floor_sweep": lambda case, density, folder: api.floor_sweep(case, [3.0, 4.0], refinement=density),
    "hole_ends": lambda case, density, folder: api.hole_ends(
        case, cone_angle=118.0, end_radius=2.0, refinement=density
    ),
}


@pytest.fixture(autouse=True)
def no_figure_is_left_open():
    yield
    pyplot.close("all")


@pytest.mark.parametrize("density", [0, -1.0, 0.29, 4.01, float("nan"), float("inf"), "x", None, True], ids=repr)
@pytest.mark.parametrize("name", CALLS)
def test_a_mesh_density_out_of_range_is_refused_in_every_call(hut_pump, tmp_path, name, density):
    with pytest.raises(StudwellError, match=r"refinement = .* from 0.3 to 4") as refused:
        CALLS[name](hut_pump, density, tmp_path / "rows")
    assert refused.value.slug == "out-of-range" and not (tmp_path / "rows").exists()


@pytest.mark.parametrize("density", [0.3, 4, np.float32(0.5), np.int64(1)], ids=repr)
def test_a_mesh_density_in_range_is_taken_as_a_plain_number(density):
    from studwell.api.opening import mesh_density

    taken = mesh_density(density)
    assert type(taken) is float and taken == density


@pytest.mark.parametrize("thing", [None, 3, ["case.toml"]])
def test_what_is_neither_case_nor_path_is_refused(thing):
    with pytest.raises(StudwellError, match="a Case, or the path of a case file"):
        api.compare(thing)


def test_a_margin_that_is_not_there_is_refused_with_those_that_are(result):
    margins = result[PLAIN].margins
    with pytest.raises(UnknownName, match=r"stud yeild.*stud yield"):
        margins["stud yeild"]
    assert margins.get("stud yeild") is None and "stud yeild" not in margins
    assert dict(margins) == {mode: margin.value for mode, margin in result[PLAIN].record.verdict.margins.items()}


@pytest.mark.parametrize("projection", ["3d", "polar", "aitoff"])
def test_axes_without_straight_x_and_y_are_refused_and_left_as_they_were(result, projection):
    ax = pyplot.figure().add_subplot(projection=projection)
    before = len(ax.get_children())
    view = result[PLAIN]
    for draw in (view.plot_section, view.plot_cycle, result.plot_margins, result.plot_ranking, view.plot_mesh):
        with pytest.raises(StudwellError, match=f"projection {projection}.*straight x and y"):
            draw(ax=ax)
    assert len(ax.get_children()) == before


@pytest.mark.parametrize(
    ("moment", "slug"), [(True, "wrong-kind"), (False, "wrong-kind"), (1.0, "unknown-name"), ([0], "unknown-name")]
)
def test_a_moment_that_is_no_name_and_no_whole_number_is_refused(result, moment, slug):
    with pytest.raises(StudwellError, match=r"moment.*assembled.*worst") as refused:
        result[PLAIN].plot_section(moment)
    assert refused.value.slug == slug and not pyplot.get_fignums()


@pytest.mark.parametrize("name", ["w0.txt", "w0", "w0.vtu.gz", "w0.pvd"])
def test_a_revolved_file_of_another_ending_is_refused_and_not_written(result, tmp_path, name):
    with pytest.raises(CannotWrite, match=r"ends in \.vtu"):
        result[PLAIN].write_revolved(tmp_path / name, sectors=3)
    assert not list(tmp_path.iterdir())
