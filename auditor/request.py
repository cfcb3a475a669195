"""Floor 4: what the user asked for, and what is refused before anything is done."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import TypeVar

import platformdirs

from auditor.files.mounts import lies_within
from auditor.model.errors import CannotWrite, NothingFound, WrongCall
from auditor.model.facts import CardFindings, Position
from auditor.model.settings import Settings
from auditor.read.remote import local_places
from auditor.report.picture_files import PICTURES_FOLDER
from auditor.report.tables import check_parquet
from auditor.report.write import MAIN_FILES, SHEETS, SHEETS_OF
from auditor.store.database import default_path
from auditor.store.shelf import PictureShelf
from auditor.words import calls

AnyPath = TypeVar("AnyPath", bound=PurePath)

PICTURES = ("none", "small", "large")
"""What the page shows: text and figures alone, small pictures within it, or large ones beside."""

AUDITS = "audits"
"""The folder of folders that are named by their evening."""


@dataclass(frozen=True, slots=True)
class AuditRequest:
    """What the user asked for.

    Parameters
    ----------
    paths : tuple of str
        Files and folders to look under.
    out : Path or None
        Where the reports go; None takes a folder named by the first evening of the shoot.
    under : Path or None
        Where such a folder is made; None takes the current folder or the user's documents.
    formats : tuple of str
        Of :data:`auditor.report.write.MAIN_FILES`.
    workers : int or None
        None takes the cores there are.
    cluster : str or None
        Address of a Dask scheduler.
    store : Path or None
        None takes the user's data folder.
    keep_store : bool
        False measures into a store that is thrown away.
    again : bool
        Measure every file anew, whatever the store holds of it.
    place : Position or None
        Where the pictures were taken, for files that hold no position.
    sheets : str
        Which frames get a sheet, of :data:`auditor.report.write.SHEETS_OF`.
    replace : bool
        Whether another shoot's audit, or somebody else's files, may be replaced.
    pictures : str or None
        Of :data:`PICTURES`; None makes large ones where the page is among the formats, and shows
        those that are there.
    """

    paths: tuple[str, ...]
    out: Path | None = None
    formats: tuple[str, ...] = ("html", "png", "json", "csv")
    settings: Settings = Settings()
    workers: int | None = None
    cluster: str | None = None
    store: Path | None = None
    keep_store: bool = True
    again: bool = False
    place: Position | None = None
    under: Path | None = None
    sheets: str = "lost"
    replace: bool = False
    pictures: str | None = None

    @property
    def draws_large(self) -> bool:
        """Whether large pictures are made of frames that have none."""
        return self.pictures == "large" or (self.pictures is None and "html" in self.formats)


def check_call(request: AuditRequest) -> None:
    """Refuse what cannot be done before anything is done.

    Raises
    ------
    WrongCall
        An empty path, an unknown format, or reports or a store that would land on the card itself.
    CannotWrite
        The reports' folder is a file, or may not be written.
    """
    check_named(request.paths)
    unknown = [name for name in request.formats if name not in MAIN_FILES]
    if unknown:
        raise WrongCall(calls.NO_FORMAT.format(unknown=unknown[0], known=", ".join(MAIN_FILES)))
    if "parquet" in request.formats:
        check_parquet()
    if request.sheets not in SHEETS_OF:
        raise WrongCall(
            calls.NO_SUCH_SHEETS.format(sheets=request.sheets, known=", ".join(SHEETS_OF))
        )
    if request.pictures not in {*PICTURES, None}:
        raise WrongCall(
            calls.NO_SUCH_PICTURES.format(pictures=request.pictures, known=", ".join(PICTURES))
        )
    if request.formats:
        folder = request.out or request.under or audits_folder(request.paths)
        for place in (folder, folder / SHEETS, folder / PICTURES_FOLDER):
            check_reports_off_card(request.paths, place)
        check_out(folder)
    if request.keep_store:
        store = request.store or default_path()
        for place in (store, PictureShelf.beside(store).folder):
            check_off_card(request.paths, place, "The store", "file with --store")


def check_found(found: CardFindings) -> tuple[str, ...]:
    """Refuse to report on nothing: an empty card is a mistake, and no reason to write.

    Returns
    -------
    tuple of str
        A warning for each path under which nothing was found, where others hold something.

    Raises
    ------
    NothingFound
        There is no raw file under the paths, nor anything that promises to be one.
    """
    holding = {file.input_index for file in (*found.files, *found.unread)}
    if not holding:
        others = ", ".join(f"{count} {suffix}" for suffix, count in found.passed_over.items())
        aside = f" ({others} passed over)" if others else ""
        raise NothingFound(calls.NO_RAW_FILE.format(inputs=" or ".join(found.inputs), aside=aside))
    return tuple(
        calls.NO_RAW_FILE_UNDER.format(name=name)
        for place, name in enumerate(found.inputs)
        if place not in holding
    )


def check_named(paths: Sequence[str]) -> None:
    """Refuse an empty path: an unset variable is not the current folder.

    Raises
    ------
    WrongCall
        There is one.
    """
    if not all(path.strip() for path in paths):
        raise WrongCall(calls.EMPTY_PATH)


def check_reports_off_card(paths: Sequence[str], target: Path) -> None:
    """Refuse a file or folder of the reports that would lie on the card, by whatever name.

    Parameters
    ----------
    paths : sequence of str
        What is read. On the card is what lies in a folder named, in the folder of a file named,
        or in the folder that holds the DCIM in which either lies.

    Raises
    ------
    WrongCall
        It would.
    """
    check_off_card(paths, target, "The reports", "folder with --out")


def check_off_card(paths: Sequence[str], target: Path, what: str, instead: str) -> None:
    """Refuse a file or folder that would lie on the card; ``instead`` says what to choose.

    Raises
    ------
    WrongCall
        It would.
    """
    card = lies_on_card(paths, target)
    if card is not None:
        raise WrongCall(
            calls.LANDS_ON_CARD.format(what=what, target=target, card=card, instead=instead)
        )


def lies_on_card(paths: Sequence[str], target: Path) -> Path | None:
    """Return the folder of the card that something lies in, by any name; None elsewhere."""
    cards = (card for path in paths for card in card_folders(path))
    return next((card for card in cards if lies_within(target, card)), None)


def card_folders(path: str) -> Iterator[Path]:
    """Yield the folder that a path names or lies in, and the root of the card it is part of."""
    for name in local_places(path):
        place = Path(os.path.realpath(name))
        folder = place.parent if os.path.isfile(place) else place  # noqa: PTH113 - takes any name
        yield folder
        yield from card_roots(folder)


def card_roots(folder: AnyPath) -> Iterator[AnyPath]:
    """Yield what holds a DCIM in which a folder lies: on some systems a card is a whole drive."""
    for holder in (folder, *folder.parents):
        # what lies beside a DCIM at the root of all files is no card
        if holder.name.casefold() == "dcim" and str(holder.parent) != "/":
            yield holder.parent


def audits_folder(paths: Sequence[str]) -> Path:
    """Return where folders of audits go that nobody named: here, or with the user's documents.

    A folder on the card is never written to; one that cannot be written is no place either.
    """
    here = Path.cwd()
    if lies_on_card(paths, here / AUDITS) or not os.access(here, os.W_OK | os.X_OK):
        here = platformdirs.user_documents_path()
    return here / AUDITS


def check_out(out: Path) -> None:
    """Find out before hours of work whether reports can be written at their end.

    Raises
    ------
    CannotWrite
        The folder is a file, or may not be written.
    """
    try:
        there = next(place for place in (out, *out.parents) if _is_there(place))
        is_folder = there.is_dir()
    except OSError as error:
        raise CannotWrite(calls.OUT_NOT_WRITABLE.format(path=out, reason=error.strerror)) from error
    if not is_folder:
        raise CannotWrite(calls.NOT_A_FOLDER.format(path=there))
    if not os.access(there, os.W_OK | os.X_OK):
        raise CannotWrite(calls.READ_ONLY.format(path=out, there=there))


def _is_there(place: Path) -> bool:
    try:
        place.lstat()
    except (FileNotFoundError, NotADirectoryError):
        return False
    return True
