import os
import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from studwell.errors import NoScheduler, StudwellError
from studwell.runs import execute, read_ledger

HERE = Path(__file__).parent


def test_a_dead_scheduler_address_is_one_plain_error(toy, tmp_path, monkeypatch):
    pytest.importorskip("distributed", reason="the extra `cluster` is not installed")
    monkeypatch.setattr("studwell.runs.cluster.PATIENCE", 1.0)
    with socket.socket() as unused:
        unused.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{unused.getsockname()[1]}"
    with pytest.raises(NoScheduler, match="no scheduler answers") as refused:
        execute(toy.Toy(), tmp_path / "rows", scheduler=address)
    assert address in str(refused.value)


@pytest.mark.parametrize("address", ["nonsense", "tcp://", "carrier-pigeon://home:1"])
def test_an_address_that_is_none_is_one_plain_error(toy, tmp_path, monkeypatch, address):
    pytest.importorskip("distributed", reason="the extra `cluster` is not installed")
    monkeypatch.setattr("studwell.runs.cluster.PATIENCE", 1.0)
    with pytest.raises(NoScheduler):
        execute(toy.Toy(), tmp_path / "rows", scheduler=address)


def test_without_the_extra_the_message_tells_how_to_get_it(toy, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(NoScheduler, match=r"studwell\[cluster\]"):
        execute(toy.Toy(), tmp_path / "rows", scheduler="tcp://127.0.0.1:1")


@pytest.fixture(scope="module")
def cluster():
    """A scheduler and two worker processes on this machine; yields (address, worker processes)."""
    pytest.importorskip("distributed", reason="the extra `cluster` is not installed")
    # workers import what the plan is made of
    environment = {**os.environ, "PYTHONPATH": str(HERE), "DASK_DISTRIBUTED__WORKER__MEMORY__TERMINATE": "False"}
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.PIPE, "text": True, "env": environment}
    scheduler = subprocess.Popen(
        [sys.executable, "-m", "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0",
         "--no-dashboard", "--no-jupyter"], **quiet,
    )  # fmt: skip
    address = ""
    for line in scheduler.stderr:
        if "Scheduler at:" in line:
            address = line.split()[-1]
            break
    crew = [
        subprocess.Popen(
            [sys.executable, "-m", "distributed.cli.dask_worker", address, "--nthreads", "1", "--no-nanny",
             "--no-dashboard", "--memory-limit", "0"], **{**quiet, "stderr": subprocess.DEVNULL},
        )
        for _ in range(2)
    ]  # fmt: skip
    from distributed import Client

    with Client(address, set_as_default=False) as client:
        client.wait_for_workers(2, timeout=30)
    yield address, crew
    for process in [*crew, scheduler]:
        process.kill()
        process.wait()
    scheduler.stderr.close()


def test_a_cluster_worker_killed_in_the_middle_costs_no_row(toy, tmp_path, digest, cluster):
    address, crew = cluster
    killed = []

    def kill_one(pace):
        if pace.done >= 32 and not killed:
            os.kill(crew[0].pid, signal.SIGKILL)
            killed.append(crew[0].pid)

    run = execute(toy.Toy(pause=0.03), tmp_path / "rows", scheduler=address, progress=kill_one)
    assert killed and run.complete and run.rows.digest() == digest


def test_an_error_in_a_block_on_the_cluster_arrives_with_its_message(toy, tmp_path, cluster):
    with pytest.raises(StudwellError, match=r"\[stud\] length"):
        execute(toy.Stubborn(), tmp_path / "rows", scheduler=cluster[0])
    assert read_ledger(tmp_path / "rows").done >= 8


def test_a_study_begun_here_is_taken_up_by_the_cluster(toy, tmp_path, digest, cluster):
    class Enough(Exception):
        pass

    def stop(pace):
        if pace.done >= 24:
            raise Enough

    with pytest.raises(Enough):
        execute(toy.Toy(), tmp_path / "rows", workers=1, progress=stop)
    run = execute(toy.Toy(), tmp_path / "rows", scheduler=cluster[0], resume=True)
    assert run.taken_up == 24 and run.rows.digest() == digest
