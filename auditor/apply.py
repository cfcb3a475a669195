"""Floor 4: from marks to sidecars, and what is refused before anything is written."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from auditor.files.mounts import lies_within
from auditor.model.errors import WrongCall
from auditor.model.text import real_name
from auditor.read.tiff import embedded_xmp
from auditor.request import card_folders
from auditor.sidecar.apply import ApplyReport, Wish, undo_last, write_marks
from auditor.sidecar.marks import Marks, read_marks
from auditor.sidecar.merge import LABELS, Rules
from auditor.sidecar.place import Naming
from auditor.words import sidecars


def apply_marks(
    marks: str | Path | Marks,
    folder: str | Path,
    *,
    dry_run: bool = False,
    naming: Naming = "stem",
    only_input: int | None = None,
    labels: tuple[str, ...] = LABELS,
    replace: bool = False,
    in_place: bool = False,
) -> ApplyReport:
    """Write culling marks as XMP sidecars beside the frames under ``folder``.

    A rating, label or caption that a person or another program set stays; what an earlier run
    of ours wrote and nobody changed follows the new marks. Each run that changes anything keeps
    one backup under ``folder``, for :func:`undo_marks`.

    Parameters
    ----------
    marks : path or Marks
    folder : path
        Where the frames are, or an empty folder that collects sidecars.
    dry_run : bool
        Only tell what would change.
    naming : {"stem", "full"}
        Name of a new sidecar: IMG.xmp or IMG.EXT.xmp.
    only_input : int, optional
        Apply only the marks of that card, from 1 as frame ids count them ("2:a.dng").
    labels : tuple of str
        Label texts for keep, second and drop.
    replace : bool
        Replace what others set, too.
    in_place : bool
        The audited folder itself is a copy and no card: sidecars may be written there.

    Returns
    -------
    ApplyReport
        Its ``stopped`` is true where the interrupt key ended the work half way.

    Raises
    ------
    WrongCall
        The marks cannot be read, the folder is not there, or it is a card; nothing was changed.

    Examples
    --------
    >>> from auditor.api import apply_marks
    >>> told = apply_marks("marks.json", "/photos/evening", dry_run=True)  # doctest: +SKIP
    >>> told.count("created")                                              # doctest: +SKIP
    2
    """
    folder = _checked(folder)
    found = marks if isinstance(marks, Marks) else read_marks(Path(marks))
    wish = Wish(
        rules=Rules(labels=tuple(labels), by_audit=found.by_audit, replace=replace),
        dry_run=dry_run,
        naming=naming,
        only_input=only_input,
    )
    _check_off_card(folder, () if in_place else found.inputs)
    return write_marks(found, folder, wish, embedded_xmp)


def undo_marks(folder: str | Path, *, dry_run: bool = False, replace: bool = False) -> ApplyReport:
    """Put the sidecars under ``folder`` back as they were before the last run that changed any.

    Parameters
    ----------
    folder : path
        The folder that the marks were applied to.
    dry_run : bool
        Only tell what would change.
    replace : bool
        Put back also what was changed since by somebody else.

    Returns
    -------
    ApplyReport
        What became of each sidecar.

    Raises
    ------
    WrongCall
        There is no run to undo; nothing was changed.

    Examples
    --------
    >>> from auditor.api import undo_marks
    >>> undo_marks("/photos/evening").complete  # doctest: +SKIP
    True
    """
    folder = _checked(folder)
    _check_off_card(folder, ())
    return undo_last(folder, dry_run=dry_run, replace=replace)


def _checked(folder: str | Path) -> Path:
    folder = Path(folder)
    try:
        if folder.is_dir():
            return folder
    except OSError as error:
        raise WrongCall(
            sidecars.NOT_LOOKED_INTO.format(path=folder, reason=error.strerror)
        ) from error
    raise WrongCall(sidecars.NO_FOLDER.format(path=folder))


def _check_off_card(folder: Path, inputs: tuple[str, ...]) -> None:
    """Refuse a card: a medium with a DCIM at its root, or what was audited as one."""
    real = Path(os.path.realpath(folder))
    for place in (real, *real.parents):
        names: list[str] = []
        if place != Path(place.anchor) and os.path.ismount(place):
            with suppress(OSError):
                names = [path.name.casefold() for path in place.iterdir()]
        if "dcim" in names:
            raise WrongCall(sidecars.ON_CARD.format(folder=folder, place=place))
    for card in (card for path in inputs for card in card_folders(real_name(path))):
        if lies_within(folder, card):
            raise WrongCall(sidecars.AUDITED_AS_CARD.format(folder=folder))
