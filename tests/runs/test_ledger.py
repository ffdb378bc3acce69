import numpy as np
import pytest

from studwell.errors import BadCase, CannotWrite
from studwell.runs import execute, read_ledger
from studwell.runs.ledger import HEAD, open_ledger


@pytest.fixture
def finished(toy, tmp_path):
    path = tmp_path / "rows"
    execute(toy.Toy(), path, workers=1)
    return path


def test_rows_come_in_sample_order_whatever_the_order_of_writing(toy, tmp_path, digest):
    plan = toy.Toy()
    with open_ledger(plan, tmp_path / "rows") as ledger:
        for index in reversed(range(12)):
            ledger.add(index, plan.evaluate(index))
    rows = read_ledger(tmp_path / "rows")
    assert rows.complete and rows.shape == (96, 4)
    assert np.array_equal(rows.column("sample"), np.arange(96.0))
    assert np.array_equal(rows.array()[:, 1], np.arange(96.0) ** 2)
    assert rows.digest() == digest


def test_a_short_last_block_is_kept_whole(toy, tmp_path):
    run = execute(toy.Toy(count=45), tmp_path / "rows", workers=1)
    assert run.complete and len(run.rows.column("sample")) == 45


@pytest.mark.parametrize("cut", [1, 7, HEAD.size, HEAD.size + 3, HEAD.size + 8 * 4 * 8 + 5])
def test_a_torn_end_is_dropped_and_done_again(toy, finished, digest, cut):
    whole = finished.read_bytes()
    finished.write_bytes(whole[:-cut])
    run = execute(toy.Toy(), finished, workers=1, resume=True)
    assert run.rows.digest() == digest and run.taken_up in (80, 88) and run.dropped_bytes > 0
    assert finished.read_bytes() == whole


def test_a_flipped_bit_is_found_and_its_block_done_again(toy, finished, digest):
    damaged = bytearray(finished.read_bytes())
    damaged[-3 * (HEAD.size + 8 * 4 * 8) + HEAD.size + 20] ^= 1
    finished.write_bytes(bytes(damaged))
    assert read_ledger(finished).done == 72
    assert execute(toy.Toy(), finished, workers=1, resume=True).rows.digest() == digest


def test_a_row_damaged_after_reading_is_refused_not_handed_out(finished):
    rows = read_ledger(finished)
    damaged = bytearray(finished.read_bytes())
    damaged[-20] ^= 1
    finished.write_bytes(bytes(damaged))
    with pytest.raises(BadCase, match="changed on the disk"):
        rows.digest()


@pytest.mark.parametrize(
    ("change", "key"),
    [({"hash": "another-case"}, "hash"), ({"count": 97}, "count"), ({"block": 9}, "block"),
     ({"columns": ("sample", "square", "normal", "eighth")}, "columns")],
)  # fmt: skip
def test_a_ledger_of_another_study_is_refused_by_what_differs_and_left_alone(toy, finished, change, key):
    before = finished.read_bytes()
    with pytest.raises(BadCase) as refused:
        execute(toy.Toy(**change), finished, workers=1, resume=True)
    assert refused.value.key == key and refused.value.slug == "wrong-ledger"
    assert str(finished) in str(refused.value) and "allowed" in str(refused.value)
    assert finished.read_bytes() == before


def test_a_file_that_is_no_ledger_is_refused(toy, tmp_path):
    (tmp_path / "rows").write_text("time,clamp\n1,2\n")
    with pytest.raises(BadCase, match="no ledger"):
        execute(toy.Toy(), tmp_path / "rows", workers=1, resume=True)


def test_starting_anew_keeps_an_unfinished_ledger_beside_the_new_one(toy, tmp_path):
    plan = toy.Toy()
    with open_ledger(plan, tmp_path / "rows") as ledger:
        ledger.add(4, plan.evaluate(4))
    assert execute(plan, tmp_path / "rows", workers=1).taken_up == 0
    assert read_ledger(tmp_path / "rows.old").done == 8


def test_rows_of_another_shape_are_refused(toy, tmp_path):
    with open_ledger(toy.Toy(), tmp_path / "rows") as ledger, pytest.raises(ValueError, match="shape"):
        ledger.add(0, np.zeros((8, 3)))


def test_a_ledger_cannot_be_made_where_a_file_stands_in_the_way(toy, tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(CannotWrite):
        open_ledger(toy.Toy(), tmp_path / "file" / "rows")
