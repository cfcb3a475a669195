"""What tests of whole runs share: one evening audited, one report, a browser to look at it."""

from __future__ import annotations

import fcntl
import pickle
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import Browser

    from tests.evening_audit import Evening


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """For one module: two of them in one process would be in each other's way."""
    from tests.browser import chromium

    with chromium() as found:
        yield found


@pytest.fixture(scope="session")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of the usual made-up audit, to be looked at and never written to."""
    from tests.browser import written
    from tests.builders import make_audit

    return written(tmp_path_factory.mktemp("report"), *make_audit())


@pytest.fixture(scope="session")
def evening(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Evening:
    """Made by the first process that asks; the others wait and take it over."""
    from tests.evening_audit import audited_evening

    if worker_id == "master":
        return audited_evening(tmp_path_factory.mktemp("evening"))
    shared = tmp_path_factory.getbasetemp().parent
    kept = shared / "evening.pickle"
    with (shared / "evening.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not kept.exists():
            folder = shared / "evening"
            folder.mkdir()
            kept.write_bytes(pickle.dumps(audited_evening(folder)))
    made: Evening = pickle.loads(kept.read_bytes())
    return made
