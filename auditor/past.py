"""Floor 4: what the store remembers, told: habits, filters, and the state of the store itself."""

from __future__ import annotations

from pathlib import Path

from auditor.files.atomic import write_bytes
from auditor.history.filters import known_filters
from auditor.history.rows import STAYING_S
from auditor.history.summarise import summarise
from auditor.model.facts import Position
from auditor.model.history import History, KnownFilter
from auditor.store.store import Store, default_path


def remembered_filters(path: Path | None) -> tuple[KnownFilter, ...]:
    """Return the filters that recur over the shoots in the store; none where it is empty."""
    with Store.open(path) as store:
        return known_filters(store.shoots())


def remembered_history(path: Path | None, place: Position | None = None) -> History:
    """Sum up all shoots in the store; ``place`` stands in for files without a position."""
    with Store.open(path) as store:
        return summarise(store.shoots(), place=place, hot_places=store.hot_places(STAYING_S))


def write_history(history: History, out: Path) -> tuple[Path, ...]:
    """Write history.html and history.png into ``out``.

    Raises
    ------
    CannotWrite
        The folder cannot be written.
    """
    # Templates and drawing are slow to load, and filters are asked for without them.
    from auditor.report.history_html import build_history_html  # noqa: PLC0415
    from auditor.report.history_png import build_history_png  # noqa: PLC0415

    page, picture = out / "history.html", out / "history.png"
    write_bytes(page, build_history_html(history))
    write_bytes(picture, build_history_png(history))
    return page, picture


def verify_store(path: Path | None) -> list[str]:
    """Tell in sentences what is wrong with the store; empty when all is well."""
    with Store.open(path) as store:
        return [*store.warnings, *store.verify()]


def export_store(path: Path | None, target: Path) -> None:
    """Write everything remembered into one file."""
    with Store.open(path) as store:
        store.export(target)


def import_store(path: Path | None, source: Path) -> str:
    """Take in what another store exported; returns a sentence on what was new."""
    with Store.open(path) as store:
        return str(store.import_(source))


def store_place(path: Path | None) -> Path:
    """Return where the store lies."""
    return path or default_path()
