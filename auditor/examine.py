"""Floor 3: one path in, one measurement out. The only floor where pixels live.

Picklable in and out: engines send it to worker processes and to other machines.
"""

from __future__ import annotations

import errno
import os
from dataclasses import dataclass, replace

from auditor.measure.mosaic import measure_mosaic
from auditor.measure.picture import encode_pictures
from auditor.measure.preview import measure_preview
from auditor.model.errors import UnreadableFile
from auditor.model.measurement import DamageSign, FrameMeasurement, MosaicMeasurement
from auditor.model.settings import MeasureSettings
from auditor.read.exif import read_facts
from auditor.read.raw import open_raw
from auditor.read.remote import local_copy

PREVIEW_LONGEST_PX = 800
"""Enough to share out a preview over the tiles; a larger one costs time and tells no more."""


@dataclass(frozen=True, slots=True)
class ExamineTask:
    """One file to measure.

    Parameters
    ----------
    path : str
        Where the worker finds it, on its own disk or at a URL.
    kind : str
        The container, as :mod:`auditor.read.card` told it.
    thorough : bool
        Also hold the digest that some files carry against their pixels, which takes a while.
    """

    path: str
    kind: str
    settings: MeasureSettings
    thorough: bool = False


def examine_file(task: ExamineTask) -> FrameMeasurement:
    """Read, decode and measure one raw file.

    Raises
    ------
    UnreadableFile
        The file cannot be measured; its code and message say why.
    """
    with local_copy(task.path) as path:
        return _examine(path, task)


def _examine(path: str, task: ExamineTask) -> FrameMeasurement:
    _check_openable(path)
    facts = read_facts(path, task.kind)
    with open_raw(path, task.kind, facts) as raw:
        # the preview first: what decoding it takes is free again before measuring takes its share
        preview = raw.preview(PREVIEW_LONGEST_PX) if task.settings.preview else None
        picture = measure_mosaic(raw.mosaic, task.settings)
        mismatch = task.thorough and raw.digest_holds() is False
        facts, decoder, notes = raw.facts, raw.decoder, raw.notes
    measurement = _with_mismatch(picture.measurement) if mismatch else picture.measurement
    _refuse_empty(measurement.damage)
    return FrameMeasurement(
        facts=facts,
        mosaic=measurement,
        preview=None if preview is None else measure_preview(preview, measurement),
        pictures=encode_pictures(picture.rgb, preview, facts.orientation),
        decoder=decoder,
        notes=tuple(notes),
    )


_OPENING_FAILURES = {
    errno.ENOENT: ("vanished", "The file is gone. Was the card taken out?"),
    errno.EACCES: ("no-permission", "The file may not be read. Change its permissions."),
    errno.EPERM: ("no-permission", "The file may not be read. Change its permissions."),
}


def _check_openable(path: str) -> None:
    """Open once for reading, so that the medium's own complaint is told rather than a decoder's."""
    try:
        with open(path, "rb") as stream:  # noqa: PTH123 - the path may hold surrogate escapes
            first = stream.read(16)
            size = os.fstat(stream.fileno()).st_size
    except OSError as error:
        code, message = _OPENING_FAILURES.get(
            error.errno or 0, ("input-error", f"The file cannot be read ({error.strerror}).")
        )
        raise UnreadableFile(code, message) from error
    if size == 0 or not first:
        raise UnreadableFile("empty", "The file holds no bytes. Copy it from the card again.")


def _with_mismatch(measurement: MosaicMeasurement) -> MosaicMeasurement:
    sign = DamageSign(
        "digest mismatch", 1.0, "The pixels are not those of which the file holds the digest."
    )
    return replace(measurement, damage=(*measurement.damage, sign))


def _refuse_empty(damage: tuple[DamageSign, ...]) -> None:
    for sign in damage:
        if sign.kind == "empty plane" and sign.share > 0.9:
            raise UnreadableFile(
                "no-pixels",
                "The file opens, but its picture is all zeros: it was cut off or never written. "
                "Copy it from the card again.",
            )
