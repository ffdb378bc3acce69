"""The animation: its pictures, their number and size, the same bytes each time."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from studwell.show import theme
from studwell.show.animation import LAST_TIME, Film, animation, frame_steps, write_animation
from studwell.show.time_axis import time_in_cycle


@pytest.fixture(scope="module")
def result(solved_heat):
    return solved_heat["bottomed, plain"]


@pytest.fixture(scope="module")
def film(result):
    return animation(result)


def test_it_is_one_animated_picture_below_four_megabytes_that_repeats(film, result):
    picture = Image.open(io.BytesIO(film))
    assert picture.format == "GIF" and picture.is_animated
    assert picture.n_frames == len(frame_steps(result)) <= 46
    assert picture.info["loop"] == 0 and len(film) < 4e6
    picture.seek(picture.n_frames - 1)
    assert picture.info["duration"] == LAST_TIME


@pytest.mark.slow
def test_the_same_result_gives_the_same_bytes(film, result, tmp_path):
    path = write_animation(result, tmp_path / "figures" / "cycle.gif")
    assert path.read_bytes() == film


def test_pictures_differ_where_the_temperature_does(film):
    picture = Image.open(io.BytesIO(film))
    frames = []
    for place in (0, picture.n_frames // 3):
        picture.seek(place)
        frames.append(np.asarray(picture.convert("RGB")).astype(int))
    left = slice(int(0.1 * frames[0].shape[1]), int(0.5 * frames[0].shape[1]))
    assert np.count_nonzero(np.abs(frames[0] - frames[1])[:, left].sum(axis=2) > 30) > 1000


def test_frames_cover_the_last_cycle_from_its_start_to_its_end_with_every_phase_end(result):
    steps = frame_steps(result)
    times = time_in_cycle(result, steps)
    assert times[0] == 0.0 and steps[-1] == len(result.history.times) - 1
    assert np.all(np.diff(steps) > 0)
    for end in np.cumsum([phase.duration for phase in result.setup.history.phases]):
        assert np.abs(times - end).min() < 1e-6


@pytest.mark.slow
def test_each_picture_says_its_phase_and_its_time(result):
    with theme.drawing():
        film = Film(result, frame_steps(result), "metric")
        said = []
        for place in range(len(film.steps)):
            film.picture(place)
            said.append(film.head.get_text())
    assert said[0] == "start of the cycle, before warm-up"
    assert "warm-up: 10 min into the cycle" in said and "full load: 40 min into the cycle" in said
    assert said[-1] == "cold start: 7 h into the cycle"


def test_given_temperatures_have_no_animation(comparison, tmp_path):
    with pytest.raises(ValueError, match="temperatures are given"):
        write_animation(comparison.results[0], tmp_path / "cycle.gif")
