"""Several workers, and one of them killed in the middle: nothing is lost, and nothing is there twice."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

pytest.importorskip("distributed", reason="the extra `fleet` is not installed")

from fleet_tools import batch, bushes, read, shop, summary, write_table

PATIENCE = 120.0
"""Seconds."""
ROWS = 40


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, ...]:
    """A table of 40 parts; each takes a while, for some of its rows are judged by themselves."""
    folder = tmp_path_factory.mktemp("asked")
    table: dict[str, list[Any]] = bushes(40 * ROWS)
    for row in np.random.default_rng(2).integers(0, 40 * ROWS, 8 * ROWS).tolist():
        table["bore@1"][row] = 90.0  # not possible
    table["bore@2"][5] = 20.2
    path = write_table(folder / "all.parquet", table, block=ROWS)
    return str(path), *shop(folder), "--assembly", "serial", "--rows", str(ROWS)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory, asked: tuple[str, ...]) -> Path:
    """What one program makes of it."""
    folder = tmp_path_factory.mktemp("whole") / "out"
    assert batch(*asked, "--output", folder) == 1
    return folder


def started(asked: tuple[str, ...], out: Path, *more: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "checker", "batch", *asked, "--output", str(out), *more]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def wait_until(holds: Callable[[], bool]) -> None:
    end = time.monotonic() + PATIENCE
    while not holds():
        assert time.monotonic() < end
        time.sleep(0.02)


def finished(out: Path) -> int:
    return len(list((out / "parts").glob("*.json")))


def same(out: Path, whole: Path) -> None:
    for name in ("counts", "findings", "set-aside"):
        assert read(out, name) == read(whole, name)
    assert summary(out) == summary(whole)


def listened_to(process: Any) -> list[Any]:
    """The addresses at which a process listens."""
    connections = process.net_connections if hasattr(process, "net_connections") else process.connections
    return [one for one in connections("tcp") if one.status == "LISTEN"]


def test_a_worker_that_is_killed_loses_and_doubles_nothing(tmp_path: Path, asked: tuple[str, ...], whole: Path) -> None:
    import psutil  # comes with the library of workers

    out = tmp_path / "out"
    with started(asked, out, "--workers", "2") as run:
        wait_until(lambda: finished(out) >= 5 or run.poll() is not None)
        assert run.poll() is None
        workers = [one for one in psutil.Process(run.pid).children(True) if "spawn_main" in " ".join(one.cmdline())]
        assert len(workers) == 2
        listening = [one.laddr.ip for process in (psutil.Process(run.pid), *workers) for one in listened_to(process)]
        assert listening and set(listening) == {"127.0.0.1"}  # nothing that another machine can reach
        workers[0].kill()
        left = 40 - finished(out)
        told, complaints = run.communicate(timeout=PATIENCE)
    assert left > 10  # there was a middle
    assert run.returncode == 1, complaints
    assert told.startswith("1,600 rows read of 1 table = 1,600 judged + 0 set aside")
    assert "Traceback" not in complaints
    same(out, whole)


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="nothing here ends a program as a power cut does")
def test_a_run_that_is_killed_is_gone_on_with(tmp_path: Path, asked: tuple[str, ...], whole: Path) -> None:
    out = tmp_path / "out"
    for _ in range(2):
        before = finished(out)
        with started(asked, out) as run:
            wait_until(lambda before=before: finished(out) >= before + 4)  # type: ignore[misc]
            os.kill(run.pid, signal.SIGKILL)
    assert 8 <= finished(out) < 40
    assert batch(*asked, "--output", out) == 1
    same(out, whole)


def test_a_cluster_elsewhere_judges_the_same(tmp_path: Path, asked: tuple[str, ...], whole: Path) -> None:
    from distributed import LocalCluster

    out = tmp_path / "out"
    with LocalCluster(n_workers=2, threads_per_worker=2, processes=False, dashboard_address="127.0.0.1:0") as cluster:
        status = batch(*asked, "--output", out, "--cluster", cluster.scheduler_address)
    assert status == 1
    same(out, whole)


def test_a_cluster_that_does_not_answer_is_told(
    tmp_path: Path, asked: tuple[str, ...], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("checker.fleet.cluster.PATIENCE", 0.5)
    assert batch(*asked, "--output", tmp_path / "out", "--cluster", "127.0.0.1:9") == 2
    assert "no cluster answers at 127.0.0.1:9" in capsys.readouterr().err
    assert batch(*asked, "--output", tmp_path / "out", "--cluster", "nowhere://") == 2
    assert "no cluster answers at nowhere" in capsys.readouterr().err
