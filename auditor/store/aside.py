"""Putting a damaged store out of the way, with nothing of it lost."""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime
from pathlib import Path

from auditor.model.errors import StoreRefused


def set_aside(path: Path) -> Path:
    """Rename a damaged store, its journals with it, and return its new name.

    Raises
    ------
    StoreRefused
        It cannot be renamed.
    """
    stamp = datetime.now().strftime("%Y-%m-%dT%H-%M-%S")
    aside = path.with_name(f"{path.stem}.damaged-{stamp}{path.suffix}")
    count = 1
    while aside.exists():
        count += 1
        aside = path.with_name(f"{path.stem}.damaged-{stamp}-{count}{path.suffix}")
    try:
        path.rename(aside)
        for journal in ("-wal", "-shm"):
            with suppress(FileNotFoundError):
                Path(f"{path}{journal}").rename(f"{aside}{journal}")
    except OSError as error:
        raise StoreRefused(
            f"{path}: the store is damaged and cannot be set aside ({error.strerror}). Move it "
            "away, or name another file with --store."
        ) from error
    return aside
