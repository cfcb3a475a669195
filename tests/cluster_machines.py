"""A real Dask scheduler and real worker processes on this machine."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[1]


class Cluster:
    """A scheduler with workers that can be added and killed."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._started: list[subprocess.Popen[bytes]] = []
        told = folder / "scheduler.json"
        self.scheduler = self._start(
            "scheduler", "--host", "127.0.0.1", "--port", "0", "--scheduler-file", str(told)
        )
        self.address: str = _address_in(told)
        self.workers: list[subprocess.Popen[bytes]] = []

    def add_worker(self, *options: str, threads: int = 1) -> subprocess.Popen[bytes]:
        """Start a worker process of its own, without anything that would start it again."""
        worker = self._start(
            "worker", self.address, "--no-nanny", "--nthreads", str(threads),
            "--local-directory", str(self._folder / f"worker-{len(self.workers)}"), *options,
        )  # fmt: skip
        self.workers.append(worker)
        return worker

    def _start(self, *arguments: str) -> subprocess.Popen[bytes]:
        with (self._folder / "cluster.log").open("ab") as log:
            process = subprocess.Popen(
                [sys.executable, "-m", "dask", *arguments, "--no-dashboard"],
                cwd=ROOT,
                env={**os.environ, "PYTHONPATH": str(ROOT)},
                stdout=log,
                stderr=log,
            )
        self._started.append(process)
        return process

    def close(self) -> None:
        """End everything, workers first."""
        for process in reversed(self._started):
            process.kill()
            process.wait()


def _address_in(told: Path) -> str:
    deadline = time.monotonic() + 120
    while time.monotonic() < deadline:
        try:
            return str(json.loads(told.read_text(encoding="utf-8"))["address"])
        except (OSError, ValueError, KeyError):
            time.sleep(0.05)
    raise TimeoutError("the scheduler has not started")
