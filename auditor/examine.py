"""Floor 3: one path in, one measurement out. The only floor where pixels live.

Picklable in and out: engines send it to worker processes and to other machines.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from auditor.measures.mosaic import measure_mosaic
from auditor.model.arrays import U8
from auditor.model.errors import FrameFailure, UnreadableFile
from auditor.model.facts import FileFacts, FileLook
from auditor.model.measurement import DamageSign, FrameMeasurement, MosaicMeasurement
from auditor.model.mosaic import CameraPreview
from auditor.model.settings import MeasureSettings
from auditor.pictures.encode import encode_pictures
from auditor.preview.measure import measure_preview
from auditor.read.content import read_content
from auditor.read.exif import read_facts
from auditor.read.preview import NoPreview, as_on_sensor
from auditor.read.raw import read_preview, read_raw
from auditor.store.packing import PackedMeasurement, pack_measurement

PREVIEW_LONGEST_PX = 800
"""Enough to share out a preview over the tiles; a larger one would cost time, and memory beside
the raw data."""


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
    known : tuple of str
        Digests of contents of which everything is known: such a file is read, not decoded.
    """

    path: str
    kind: str
    settings: MeasureSettings
    thorough: bool = False
    known: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Examined:
    """What a file is, and what came of it.

    Parameters
    ----------
    digest : str
        Of all its bytes.
    look : FileLook
        What a quick look at what was read would have told.
    result : PackedMeasurement, FrameFailure or None
        None for a content that was known before.
    """

    digest: str
    look: FileLook
    result: PackedMeasurement | FrameFailure | None


def examine_file(task: ExamineTask) -> FrameMeasurement:
    """Read, decode and measure one raw file.

    Raises
    ------
    UnreadableFile
        The file cannot be measured; its code and message say why.
    """
    return _examine(read_content(task.path).data, task)


def examine_packed(task: ExamineTask) -> Examined:
    """Examine a file and pack what came of it: what engines run.

    Packed it is a third of the size to send, and whoever gathers what many workers found only
    has to put it away.

    Raises
    ------
    UnreadableFile
        The file cannot be read; one that was read and cannot be measured has a result that says so.
    """
    content = read_content(task.path)
    result: PackedMeasurement | FrameFailure | None = None
    if content.digest not in task.known:
        try:
            result = pack_measurement(_examine(content.data, task))
        except UnreadableFile as error:
            result = FrameFailure(error.code, error.message)
    return Examined(content.digest, content.look, result)


def _examine(data: bytes, task: ExamineTask) -> FrameMeasurement:
    # the preview first: what decoding it takes is free again before the raw data take their share
    shown, missing = _preview(data) if task.settings.preview else (None, ())
    seen = _seen(data, task)  # the pixels are gone when this returns
    _refuse_empty(seen.measurement.damage)
    landscape = seen.measurement.width >= seen.measurement.height
    preview = None if shown is None else as_on_sensor(shown, landscape, seen.facts.orientation)
    return FrameMeasurement(
        facts=seen.facts,
        mosaic=seen.measurement,
        preview=None if preview is None else measure_preview(preview, seen.measurement),
        pictures=encode_pictures(
            seen.rgb, None if preview is None else preview.pixels, seen.facts.orientation
        ),
        decoder=seen.decoder,
        notes=(*seen.notes, *missing),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """What is left of a file once its pixels are let go: a measurement and a small picture."""

    facts: FileFacts
    measurement: MosaicMeasurement
    rgb: U8
    decoder: str
    notes: tuple[str, ...]


def _seen(data: bytes, task: ExamineTask) -> _Seen:
    raw = read_raw(data, task.kind, read_facts(data, task.kind))
    picture = measure_mosaic(raw.mosaic, task.settings)
    mismatch = task.thorough and raw.digest_holds() is False
    measurement = _with_mismatch(picture.measurement) if mismatch else picture.measurement
    return _Seen(raw.facts, measurement, picture.rgb, raw.decoder, raw.notes)


def _preview(data: bytes) -> tuple[CameraPreview | None, tuple[str, ...]]:
    """Read the preview as it is stored; without one, say why."""
    try:
        return read_preview(data, PREVIEW_LONGEST_PX), ()
    except NoPreview as reason:
        return None, (str(reason),)


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
