"""Floor 4: what the pixels of an audit's frames told, again at hand: histograms and maps."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from auditor.audit import content_keys
from auditor.clipping.maps import clip_maps
from auditor.gather import gather
from auditor.model.arrays import F32, F64, U32, Bool
from auditor.model.audit import Audit, FrameResult
from auditor.model.codes import FrameStatus
from auditor.model.errors import WrongCall
from auditor.model.measurement import FrameMeasurement
from auditor.model.orientation import upright
from auditor.model.outcome import ProgressListener
from auditor.model.settled import as_judged
from auditor.model.text import Glance
from auditor.read.card import find_files
from auditor.request import AuditRequest, check_call
from auditor.store.store import Store
from auditor.words import calls


@dataclass(frozen=True, slots=True, eq=False, kw_only=True, repr=False)
class MeasuredPlane(Glance):
    """One colour plane as numbers; maps are upright.

    Parameters
    ----------
    name : str
        "R", "G1" and so on.
    first_dn : int
        Raw DN of the histogram's first bin.
    counts : array of uint32, shape (bins,)
        Pixels of each raw DN, one bin a DN, black not subtracted.
    black_dn, saturation_dn, blown_from_dn : float
        Black level, clipping level, and the DN from which a pixel counts as blown.
    mean_dn : array of float32, shape (rows, cols)
        Mean signal of each tile, black subtracted, hot pixels left out.
    blown : array of float32, shape (rows, cols)
        Share of each tile in which this plane is blown.

    Examples
    --------
    >>> from auditor.api import measurements, read_audit
    >>> frame = next(measurements(read_audit("evening")))  # doctest: +SKIP
    >>> frame.planes["R"].counts.sum()                     # doctest: +SKIP
    249696
    """

    name: str
    first_dn: int
    counts: U32
    black_dn: float
    saturation_dn: float
    blown_from_dn: float
    mean_dn: F32
    blown: F32

    @property
    def dn(self) -> F64:
        """The raw DN of each bin."""
        return self.first_dn + np.arange(len(self.counts), dtype=np.float64)

    def glance(self) -> Iterator[tuple[str, str]]:
        """Yield name, pixels and levels."""
        yield "", self.name
        yield "pixels", str(int(self.counts.sum(dtype=np.int64)))
        yield "DN", f"black {self.black_dn:g}, saturation {self.saturation_dn:g}"


@dataclass(frozen=True, slots=True, eq=False, kw_only=True, repr=False)
class MeasuredFrame(Glance):
    """One frame as numbers: what was judged and is drawn. Maps are upright, top row first.

    Parameters
    ----------
    id : str
        The frame's id in its audit.
    planes : dict of str to MeasuredPlane
        By the plane's name, in the sensor's order.
    x_edges_px, y_edges_px : array, shape (cols + 1,) and (rows + 1,)
        Edges of the tiles in pixels of the upright picture: tile (i, j) covers
        ``y_edges_px[i]`` to ``y_edges_px[i + 1]`` and ``x_edges_px[j]`` to ``x_edges_px[j + 1]``.
    weight : array, shape (rows, cols)
        Share of the frame that each tile covers; sums to 1.
    any_blown, all_blown : array of float32, shape (rows, cols)
        Share of each tile in which any plane, and every plane, is blown.
    blocked : array of bool, shape (rows, cols), or None
        Where every plane lies under its noise floor; None where noise was not measured.
    detail : array of float32, shape (rows, cols)
        Fine detail on green over what noise alone would give; NaN where it could not be measured.

    Examples
    --------
    >>> from auditor.api import measurements, read_audit
    >>> frame = next(measurements(read_audit("evening")))  # doctest: +SKIP
    >>> float((frame.any_blown * frame.weight).sum())      # doctest: +SKIP
    0.0032
    """

    id: str
    planes: dict[str, MeasuredPlane]
    x_edges_px: F64
    y_edges_px: F64
    weight: F64
    any_blown: F32
    all_blown: F32
    blocked: Bool | None
    detail: F32

    def glance(self) -> Iterator[tuple[str, str]]:
        """Yield id, planes and the size of picture and maps."""
        yield "", self.id
        yield "planes", ", ".join(self.planes)
        yield "pixels", f"{self.x_edges_px[-1]:g} x {self.y_edges_px[-1]:g}"
        yield "tiles", f"{self.weight.shape[1]} x {self.weight.shape[0]}"


def measurements(
    audit: Audit,
    frames: Sequence[str] | None = None,
    *,
    store: str | Path | None = None,
    workers: int | None = None,
) -> Iterator[MeasuredFrame]:
    """Yield what was measured in the pixels of an audit's frames, one frame at a time.

    Parameters
    ----------
    audit : Audit
        Made here or read back; its files are looked for where it found them.
    frames : sequence of str, optional
        Ids of the frames wanted; every measured one by default.
    store : path, optional
        The audit's own store: what it holds is not decoded again. Without one the files are.
    workers : int, optional
        Processes that decode; the cores there are by default.

    Yields
    ------
    MeasuredFrame
        In the audit's order, with the levels that the audit settled.

    Raises
    ------
    WrongCall
        No measured frame has such an id, or its file cannot be measured now.

    Examples
    --------
    >>> from auditor.api import audit_shoot, measurements
    >>> audit = audit_shoot("/media/card", store="memory.sqlite")      # doctest: +SKIP
    >>> for frame in measurements(audit, store="memory.sqlite"):       # doctest: +SKIP
    ...     print(frame.id, frame.planes["R"].counts.argmax())
    DCIM/100/IMG_0042.DNG 1204
    """
    measured = {frame.id: frame for frame in audit.frames if frame.status == FrameStatus.MEASURED}
    wanted = list(measured) if frames is None else list(frames)
    unknown = [name for name in wanted if name not in measured]
    if unknown:
        raise WrongCall(calls.NOT_MEASURED.format(path=unknown[0]))
    request = AuditRequest(
        paths=audit.inputs,
        formats=(),
        settings=audit.settings,
        workers=workers,
        store=None if store is None else Path(store),
        keep_store=store is not None,
    )
    check_call(request)
    with Store.open(request.store) if request.keep_store else Store.temporary() as opened:
        found = find_files(audit.inputs)
        files = tuple(file for file in found.files if file.id in set(wanted))
        gathered = gather(replace(found, files=files), request, opened, ProgressListener())
        keys = content_keys(gathered)
        measurements = opened.measurement_source(keys, request.settings.measure)
        for name in wanted:
            if name not in keys:
                why = gathered.failures.get(name)
                raise WrongCall(f"{name}: {why.message if why else 'the file is gone.'}")
            yield measured_frame(measured[name], measurements.measurement(name))


def measured_frame(result: FrameResult, measurement: FrameMeasurement) -> MeasuredFrame:
    """Turn a measurement upright, with the levels that the frame was judged by."""
    frame = as_judged(result, measurement)
    maps, turn = clip_maps(frame), frame.orientation
    mean = upright(frame.maps.mean_dn, turn, rows_axis=1)
    planes = {
        plane.name: MeasuredPlane(
            name=plane.name,
            first_dn=plane.measured.histogram.first_dn,
            counts=plane.measured.histogram.counts,
            black_dn=plane.measured.black_dn,
            saturation_dn=plane.level.saturation_dn,
            blown_from_dn=plane.level.blown_from_dn,
            mean_dn=mean[number],
            blown=maps.planes[number],
        )
        for number, plane in enumerate(frame.planes)
    }
    y_edges, x_edges = _edges(measurement, turn)
    return MeasuredFrame(
        id=result.id,
        planes=planes,
        x_edges_px=x_edges,
        y_edges_px=y_edges,
        weight=maps.weight,
        any_blown=maps.any_blown,
        all_blown=maps.all_blown,
        blocked=maps.blocked,
        detail=upright(frame.maps.detail, turn),
    )


def _edges(measurement: FrameMeasurement, orientation: int | None) -> tuple[F64, F64]:
    """Return where tiles begin and end down and across the upright picture."""
    mosaic = measurement.mosaic
    rows, cols = mosaic.maps.shape
    tile_px = mosaic.maps.tile_px
    tall = np.clip(mosaic.height - np.arange(rows) * tile_px, 0, tile_px)
    wide = np.clip(mosaic.width - np.arange(cols) * tile_px, 0, tile_px)
    sizes = np.empty((rows, cols, 2))
    sizes[..., 0], sizes[..., 1] = tall[:, None], wide[None, :]
    turned = upright(sizes, orientation)
    down, across = (1, 0) if orientation in (5, 6, 7, 8) else (0, 1)
    return (
        np.concatenate([[0.0], np.cumsum(turned[:, 0, down])]),
        np.concatenate([[0.0], np.cumsum(turned[0, :, across])]),
    )
