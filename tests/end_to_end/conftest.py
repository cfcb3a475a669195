"""One evening, made and audited once for all tests that look at it."""

from __future__ import annotations

import fcntl
import pickle
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.evening_audit import Evening


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
