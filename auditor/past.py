"""Floor 4: what the store remembers, told: habits, filters, and the state of the store itself."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path

from auditor.files.atomic import write_bytes
from auditor.history.filters import known_filters
from auditor.history.limits import STAYING_S
from auditor.history.summarise import summarise
from auditor.model.audit import Audit
from auditor.model.errors import StoreRefused
from auditor.model.facts import Position
from auditor.model.history import History, KnownFilter
from auditor.report.write import MAIN_FILES
from auditor.store.database import default_path
from auditor.store.exchange import Taken, check_importable
from auditor.store.shoots import EveningFace
from auditor.store.store import Store
from auditor.words import calls
from auditor.words.history import history_with_words

Tell = Callable[[str], None]
"""Is told what a store has to say: that it was damaged, and what became of it. None: a warning."""


def remembered_filters(
    path: str | Path | None = None, tell: Tell | None = None
) -> tuple[KnownFilter, ...]:
    """Return the filters that recur over the shoots in the store; none where it is empty.

    Parameters
    ----------
    path : path, optional
        The store; the user's own by default.
    tell : callable, optional
        Is told in a sentence when the store was damaged; without one it is a warning.

    Returns
    -------
    tuple of KnownFilter
        By strength, as measured.

    Raises
    ------
    StoreRefused
        The store named is not there, or cannot be opened.

    Examples
    --------
    >>> from auditor.api import filters
    >>> filters("memory.sqlite")[0].stops  # doctest: +SKIP
    9.72
    """
    with _remembering(path, tell) as store:
        return known_filters(store.shoots())


def remembered_history(path: str | Path | None = None, place: Position | None = None) -> History:
    """Sum up all shoots in the store.

    Parameters
    ----------
    path : path, optional
        The store; the user's own by default.
    place : Position, optional
        Stands in for files without a position.

    Returns
    -------
    History
        Exposure, previews, filters, hot pixels, sensors and habits.

    Raises
    ------
    StoreRefused
        The store named is not there, or cannot be opened.

    Examples
    --------
    >>> from auditor.api import history
    >>> history("memory.sqlite").shoots  # doctest: +SKIP
    12
    """
    told: list[str] = []
    with _remembering(path, told.append) as store:
        history = summarise(store.shoots(), place=place, hot_places=store.hot_places(STAYING_S))
        faces = {face.day: face for face in store.evening_faces()}
    evenings = []
    for one in history.evenings:
        face, address = faces.get(one.day, EveningFace(day=one.day)), ""
        with suppress(OSError, ValueError):  # the report may lie there no more
            page = Path(face.folder) / MAIN_FILES["html"]
            address = page.as_uri() if face.folder and page.is_file() else ""
        evenings.append(
            replace(one, report=address, picture=face.picture, picture_of=face.picture_of)
        )
    history = history_with_words(replace(history, evenings=tuple(evenings)))
    return replace(history, notes=(*history.notes, *told))


def last_audit(path: str | Path | None = None) -> Audit | None:
    """Return the audit that the store took in last; its histograms and preview counts are empty.

    Raises
    ------
    StoreRefused
        The store named is not there, or cannot be opened.
    """
    with _remembering(path, None) as store:
        return store.last_shoot()


@contextmanager
def _remembering(path: str | Path | None, tell: Tell | None) -> Iterator[Store]:
    """Open a store to ask it; where the user has none yet, an empty one that is thrown away."""
    opened = Store.temporary() if path is None and _is_absent(default_path()) else _existing(path)
    with opened as store:
        yield store
        _pass_on(store, tell)


def _existing(path: str | Path | None) -> Store:
    """Open a store that is there: a name misspelt must not make a new one."""
    place = store_place(path)
    if _is_absent(place):
        raise StoreRefused(calls.NO_STORE.format(path=place))
    return Store.existing(place)


def _is_absent(place: Path) -> bool:
    try:
        place.stat()
    except (FileNotFoundError, NotADirectoryError):
        return True
    except OSError:
        return False  # opening it says why
    return False


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
    """Tell in sentences what is wrong with the store; empty when all is well.

    Raises
    ------
    StoreRefused
        There is none, or it cannot be opened.
    """
    with _existing(path) as store:
        found = store.verify()
        return [*store.warnings, *found]


def export_store(path: Path | None, target: Path, tell: Tell | None = None) -> None:
    """Write everything remembered into one file.

    Raises
    ------
    StoreRefused
        There is no store, or it cannot be opened.
    CannotWrite
        The file cannot be written.
    """
    with _existing(path) as store:
        store.export(target)
        _pass_on(store, tell)


def import_store(path: Path | None, source: Path, tell: Tell | None = None) -> Taken:
    """Take in what another store exported; returns what was new, and whether all was read.

    Raises
    ------
    StoreRefused
        One of the two cannot be opened, or ``source`` is not there.
    """
    check_importable(source)  # a name misspelt must not make a store
    with Store.open(path) as store:
        taken = store.import_(source)
        _pass_on(store, tell)
    return taken


def _pass_on(store: Store, tell: Tell | None) -> None:
    for text in store.warnings:
        if tell is None:
            warnings.warn(text, stacklevel=4)
        else:
            tell(text)


def remembered_store() -> Path | None:
    """Return the user's own store; None where there is none yet."""
    place = default_path()
    return None if _is_absent(place) else place


def store_place(path: str | Path | None) -> Path:
    """Return where the store lies."""
    return default_path() if path is None else Path(path)
