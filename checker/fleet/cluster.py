"""Parts judged by several workers (Dask): processes of this machine, or a cluster that sees the same files."""

from __future__ import annotations

import logging
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from dask import config
from distributed import Client, KilledWorker, LocalCluster, Worker, WorkerPlugin, as_completed, get_worker

from checker.errors import Problem, UsageError
from checker.fleet.parts import Part
from checker.fleet.plan import Plan
from checker.fleet.run import Totals, judge_part

PATIENCE = 10.0
"""Seconds in which a cluster must answer."""

_ENVIRONMENT = {"OPENBLAS_NUM_THREADS": "1"}
"""Of a worker here. The library would also have memory given back at each turn, which takes longer than judging."""

_HERE = "127.0.0.1:0"
"""Any free port, and none that another machine can reach."""


class _Asked(WorkerPlugin):  # type: ignore[misc]  # the library states no types
    """What every worker is asked, sent once to each, one that takes the place of a lost one too."""

    name = "assembly-checker"

    def __init__(self, plan: Plan, folder: Path) -> None:
        self.asked = plan, folder

    def setup(self, worker: Worker) -> None:
        worker.asked_by_checker = self.asked


def judged_by_workers(
    plan: Plan, parts: Sequence[Part], folder: Path, workers: int = 0, address: str | None = None
) -> Iterator[Totals]:
    """What came of each part, as they are finished: by so many processes here, or by the cluster at an address.

    A part whose worker is lost is judged again by another. Raises UsageError where no cluster answers, or where a part
    has cost four workers.
    """
    with ExitStack() as stack:
        try:
            client = stack.enter_context(_client(stack, workers, address))
        except (OSError, ValueError) as error:
            raise UsageError(Problem(f"no cluster answers at {address}: {error}")) from error
        client.register_plugin(_Asked(plan, folder))
        futures = client.map(_judge, parts, pure=False)
        try:
            for future in as_completed(futures):
                yield future.result()
        except KilledWorker as error:
            message = f"a part was given up after its worker ended four times: {error.task}"
            raise UsageError(Problem(message, hint="is there memory enough? fewer --rows at once need less")) from error
        finally:
            client.cancel(futures)


def _client(stack: ExitStack, workers: int, address: str | None) -> Any:
    if address is not None:
        return Client(address, timeout=PATIENCE)
    with config.set({"distributed.nanny.pre-spawn-environ": _ENVIRONMENT}):
        cluster = LocalCluster(
            n_workers=workers,
            threads_per_worker=1,
            dashboard_address=_HERE,
            worker_dashboard_address=_HERE,
            scheduler_kwargs={"dashboard": False},
            silence_logs=logging.CRITICAL,
        )
    return Client(stack.enter_context(cluster))


def _judge(part: Part) -> Totals:
    plan, folder = get_worker().asked_by_checker
    return judge_part(plan, part, folder)
