"""Floor 3: one path in, one measurement out. The only floor where pixels live.

Picklable in and out: engines send it to worker processes and to other machines.
"""

from __future__ import annotations

import time
from contextlib import suppress
from functools import cache
from importlib import import_module

from auditor.defects.limits import EMPTY_SHARE
from auditor.engine.worker import apart
from auditor.measures.frame import FrameView
from auditor.measures.mosaic import MosaicView
from auditor.model.arrays import FileBytes
from auditor.model.codes import Damage
from auditor.model.errors import FileFailure, FrameFailure, UnreadableFile
from auditor.model.facts import FileFacts
from auditor.model.large import LARGE, LargePicture
from auditor.model.measurement import DamageSign, FrameMeasurement
from auditor.model.measures import MEASURES, Values, all_names, measurement_of
from auditor.model.mosaic import CameraPreview
from auditor.model.outcome import Spent
from auditor.model.remark import Remark, remark
from auditor.read.content import read_content
from auditor.read.exif import read_facts
from auditor.read.preview import NoPreview, as_on_sensor
from auditor.read.raw import read_preview, read_raw
from auditor.sensor.code_gaps import code_steps_dn
from auditor.sensor.histogram import sparse_products
from auditor.store.packing import PackedMeasures, pack_values
from auditor.task import Examined, ExamineTask
from auditor.words import unread

PREVIEW_LONGEST_PX = 800
"""Enough to share out a preview over the tiles; a larger one would cost time, and memory beside
the raw data."""


def examine_file(task: ExamineTask) -> FrameMeasurement:
    """Read, decode and measure one raw file.

    Raises
    ------
    UnreadableFile
        The file cannot be measured; its code and message say why.
    """
    data = read_content(task.path).data
    frame = _decoded(data, task, read_facts(data, task.kind))
    return measurement_of(_measured(frame, all_names()))


def examine_packed(task: ExamineTask) -> Examined:
    """Examine a file and pack the measures that it lacks: what engines run.

    Packed they are a third of the size to send, and whoever gathers what many workers found only
    has to put it away.

    Raises
    ------
    UnreadableFile
        The file cannot be read; one that was read and cannot be measured has a result that says so.
    """
    _load_early()
    began_s = time.monotonic()
    with apart() as kept:
        content = read_content(task.path, over_last=kept)
    read_s = time.monotonic() - began_s
    others = all_names() if task.of_others is None else task.of_others
    wanted = task.lacking.get(content.digest, others)
    result: PackedMeasures | FrameFailure | None = None
    pictures: tuple[LargePicture, ...] | None = None
    if wanted:
        facts = read_facts(content.data, task.kind)
        try:
            frame = _decoded(content.data, task, facts)
            values = _measured(frame, wanted)
            pictures = values.pop(LARGE, None)
            if wanted - {LARGE}:
                result = pack_values(values, wanted)
        except UnreadableFile as error:
            if wanted - {LARGE}:  # what was measured before stands
                result = FileFailure(error.code, error.message, facts)
    # what is remembered of this frame would lie in the way of the next one's pixels
    code_steps_dn.cache_clear()
    spent = Spent(len(content.data), read_s, time.monotonic() - began_s - read_s)
    return Examined(content.digest, content.look, result, spent, pictures)


def get_ready(_: None) -> None:
    """Load what measures: what a worker does that is started before there is a task."""
    _load_early()


@cache
def _load_early() -> None:
    """Load before the first file what would else be loaded within it.

    A worker's memory is used again. What is put behind a file's bytes and stays there keeps their
    place from a larger file: on large frames a fifth of a worker's peak.
    """
    for name in ("numpy.ma", "numpy.fft", "PIL.JpegImagePlugin", "imagecodecs._jpeg8"):
        with suppress(ImportError):  # whoever needs it will say so
            import_module(name)
    sparse_products()


def _decoded(data: FileBytes, task: ExamineTask, facts: FileFacts) -> FrameView:
    # the preview first: what decoding it takes is free again before the raw data take their share
    shown: CameraPreview | None = None
    missing: tuple[Remark, ...] = ()
    if task.settings.preview:
        try:
            shown = read_preview(data, PREVIEW_LONGEST_PX)
        except NoPreview as reason:
            missing = (remark(reason.code),)
    raw = read_raw(data, task.kind, facts)
    landscape = raw.mosaic.pixel_aspect * raw.mosaic.width >= raw.mosaic.height
    return FrameView(
        facts=raw.facts,
        decoder=raw.decoder,
        remarks=(*raw.remarks, *missing),
        preview=None if shown is None else as_on_sensor(shown, landscape, raw.facts.orientation),
        in_file=raw.foreign_sectors,
        digest_holds=raw.digest_holds,
        thorough=task.thorough,
        pixels=MosaicView(raw.mosaic, task.settings),
        pixel_aspect=raw.mosaic.pixel_aspect,
    )


def _measured(frame: FrameView, wanted: frozenset[str]) -> Values:
    # what the file says of itself costs nothing, and tells whose clipping levels these are
    measures = [measure for measure in MEASURES if measure.name in wanted | {"file"}]
    values: Values = {}
    for measure in measures:
        if measure.pixels:
            values |= measure.measure(frame)
    _refuse_empty(values.get("mosaic.damage", ()))
    drawn = frame.mosaic.drawn() if LARGE in wanted else None
    rest = [measure for measure in measures if not measure.pixels]
    if rest:
        frame.let_pixels_go()
    for measure in rest:
        values |= measure.measure(frame)
    if drawn is not None:
        values[LARGE] = drawn.encoded(frame.facts.orientation)
    return values


def _refuse_empty(damage: tuple[DamageSign, ...]) -> None:
    for sign in damage:
        if sign.kind is Damage.EMPTY_PLANE and sign.share > EMPTY_SHARE:
            raise unread.ZEROS.error()
