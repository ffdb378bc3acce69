import multiprocessing
import os
import random
import signal
import subprocess
import sys
import time
import tracemalloc
from pathlib import Path

import pytest

from studwell.errors import BadCase, CannotWrite, WorkerLost
from studwell.runs import execute, read_ledger
from studwell.runs.ledger import open_ledger

HERE = Path(__file__).parent


def start(path, workers, pause=0.02):
    return subprocess.Popen(
        [sys.executable, str(HERE / "toy_plan.py"), str(path), str(workers), str(pause)],
        stdout=subprocess.PIPE, text=True, start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),  # a background shell ignores it
    )  # fmt: skip


def alive(pid):
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


@pytest.mark.parametrize("workers", [1, 2, 3])
def test_any_number_of_workers_gives_the_same_rows_bit_for_bit(toy, tmp_path, digest, workers):
    run = execute(toy.Toy(), tmp_path / "rows", workers=workers)
    assert run.complete and not run.stopped and run.rows.digest() == digest


def test_progress_tells_samples_rate_and_time_left(toy, tmp_path):
    paces = []
    execute(toy.Toy(pause=0.005), tmp_path / "rows", workers=1, progress=paces.append)
    assert [pace.done for pace in paces] == list(range(8, 97, 8))
    assert all(pace.total == 96 and pace.rate > 0.0 for pace in paces)
    assert paces[-1].left == 0.0 and paces[0].left == pytest.approx(88 / paces[0].rate)


def test_killed_workers_are_replaced_and_nothing_is_lost(toy, tmp_path, digest, monkeypatch):
    monkeypatch.setattr("studwell.runs.workers.MOST_DEATHS", 50)  # chance may strike one block more than three times
    moments = random.Random(11)
    killed = []

    def kill_one(pace):
        crew = multiprocessing.active_children()
        if len(killed) < 10 and crew:
            victim = moments.choice(crew).pid
            os.kill(victim, signal.SIGKILL)
            killed.append(victim)

    run = execute(toy.Toy(pause=0.01), tmp_path / "rows", workers=2, progress=kill_one)
    assert len(killed) == 10 and run.complete and run.rows.digest() == digest
    assert not multiprocessing.active_children()


def test_a_block_that_ends_every_worker_stops_the_study_and_keeps_the_rest(toy, tmp_path):
    with pytest.raises(WorkerLost, match="block 2"):
        execute(toy.Stubborn(deadly=True), tmp_path / "rows", workers=2)
    assert read_ledger(tmp_path / "rows").done >= 8


@pytest.mark.parametrize("workers", [1, 2])
def test_an_error_in_a_block_arrives_with_its_message(toy, tmp_path, workers):
    from studwell.errors import StudwellError

    with pytest.raises(StudwellError, match=r"\[stud\] length"):
        execute(toy.Stubborn(), tmp_path / "rows", workers=workers)
    assert read_ledger(tmp_path / "rows").done >= 8
    assert issubclass(BadCase, StudwellError)


def test_ctrl_c_keeps_what_is_finished_and_a_second_run_takes_it_up(toy, tmp_path, digest):
    with start(tmp_path / "rows", 2, pause=0.1) as program:
        assert program.stdout.readline()
        os.killpg(program.pid, signal.SIGINT)
        told = program.stdout.read().split()
    assert told[-1] == "stopped"
    kept = read_ledger(tmp_path / "rows").done
    assert 8 <= kept < 96
    run = execute(toy.Toy(), tmp_path / "rows", workers=2, resume=True)
    assert run.taken_up == kept and run.rows.digest() == digest


def test_a_killed_program_leaves_no_workers_and_is_taken_up(toy, tmp_path, digest):
    with start(tmp_path / "rows", 2, pause=0.2) as program:
        assert program.stdout.readline()
        children = Path(f"/proc/{program.pid}/task/{program.pid}/children")
        crew = [int(pid) for pid in children.read_text().split()] if children.exists() else []
        program.kill()
    run = execute(toy.Toy(), tmp_path / "rows", workers=2, resume=True)
    assert 8 <= run.taken_up < 96 and run.rows.digest() == digest
    until = time.monotonic() + 5.0
    while any(map(alive, crew)) and time.monotonic() < until:
        time.sleep(0.05)
    assert not any(map(alive, crew))


@pytest.mark.slow
def test_a_program_killed_at_ten_random_moments_ends_with_the_same_rows(toy, tmp_path, digest):
    moments = random.Random(7)
    kills = 0
    while kills < 10:
        with start(tmp_path / "rows", 2, pause=0.25) as program:
            program.stdout.readline()
            time.sleep(moments.uniform(0.0, 0.12))
            program.kill()
            kills += 1
    run = execute(toy.Toy(), tmp_path / "rows", workers=2, resume=True)
    assert run.taken_up > 0 and run.complete and run.rows.digest() == digest


def test_one_ledger_has_one_writer_at_a_time(toy, tmp_path):
    with start(tmp_path / "rows", 1, pause=0.1) as program:
        assert program.stdout.readline()
        for resume in (True, False):
            with pytest.raises(CannotWrite, match="another process"):
                open_ledger(toy.Toy(), tmp_path / "rows", resume=resume)
        program.kill()


def test_memory_does_not_grow_with_the_number_of_samples(toy, tmp_path):
    def peak(count):
        tracemalloc.start()
        execute(toy.Toy(count=count, block=500), tmp_path / f"rows{count}", workers=1)
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return most

    peak(500)
    small, large = peak(1000), peak(8000)
    assert large - small < 48_000  # the rows of the larger study are 256 000 bytes


def test_no_workers_are_refused(toy, tmp_path):
    with pytest.raises(ValueError, match="workers"):
        execute(toy.Toy(), tmp_path / "rows", workers=0)
