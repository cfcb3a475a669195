"""The engine that fits what was asked for."""

from __future__ import annotations

import os

from auditor.engine.local import LocalEngine
from auditor.model.errors import WrongCall
from auditor.model.outcome import Engine
from auditor.model.settings import MeasureSettings
from auditor.words import calls


def make_engine(workers: int | None, cluster: str | None, settings: MeasureSettings) -> Engine:
    """Return an engine; no process and no connection is started before it is used.

    Parameters
    ----------
    workers : int or None
        Worker processes on this machine; None takes the cores that this process may use.
    cluster : str or None
        Address of a Dask scheduler (``tcp://host:8786``), which then decides how many.
    settings : MeasureSettings
        Time limit and memory ceiling of each file.

    Raises
    ------
    WrongCall
        There can be no such number of workers, or the cluster's library is not installed.
    """
    if workers is not None and workers < 1:
        raise WrongCall(calls.NO_WORKERS.format(workers=workers))
    if cluster is None:
        count = usable_cores() if workers is None else workers
        return LocalEngine(count, settings.time_limit_s, settings.memory_limit_mb)
    try:
        from auditor.engine.cluster import ClusterEngine  # noqa: PLC0415 - an extra
    except ImportError as error:
        raise WrongCall(calls.NO_LIBRARY) from error
    return ClusterEngine(cluster, settings.time_limit_s, settings.memory_limit_mb)


def usable_cores() -> int:
    """Count the cores that this process may run on."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
