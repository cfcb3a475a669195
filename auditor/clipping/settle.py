"""Settle where each channel clips, over all frames of a shoot.

A pile-up seen in the frame itself is the best evidence; then one seen in frames of the same
body, ISO and bit depth; then one remembered from earlier shoots; the file's claim comes last,
for files often claim more than the sensor reaches.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from statistics import median

from auditor.clipping.limits import (
    ABOVE_TAG_SHARE,
    LEAST_SISTERS,
    OUTLIER_SHARE,
)
from auditor.model.measurement import FrameMeasurement, Level, PileUp, PlaneMeasurement

LevelKey = tuple[str, str, str, float, int, str]


@dataclass(frozen=True, slots=True)
class ClipEvidence:
    """What one frame tells of clipping: small enough to keep for a whole archive.

    Parameters
    ----------
    body : tuple of str
        Make, model and serial number.
    planes : tuple of PlaneMeasurement
        In order; only their pile_ups, white levels and histogram ends are used.
    """

    body: tuple[str, str, str]
    iso: float
    """0 where the file does not tell it."""
    bit_depth: int
    planes: tuple[PlaneEvidence, ...]

    @property
    def has_sisters(self) -> bool:
        """Whether other frames can be told to be of the same body and ISO."""
        return self.iso > 0 and any(self.body)

    def key(self, plane: str) -> LevelKey:
        """Return what the level of a plane depends on."""
        return (*self.body, self.iso, self.bit_depth, plane)


@dataclass(frozen=True, slots=True)
class PlaneEvidence:
    """The top end of one plane."""

    name: str
    white_dn: float
    pile_up: PileUp | None
    top_dn: int
    """The highest DN that more than a few pixels reach."""


@dataclass(frozen=True, slots=True)
class LevelHistory:
    """Pile-ups remembered from earlier shoots, as (level, lower edge) per key."""

    levels: Mapping[LevelKey, tuple[tuple[float, float], ...]] = field(default_factory=dict)


def clip_evidence(measured: FrameMeasurement) -> ClipEvidence:
    """Take the evidence of clipping out of a measurement."""
    camera = measured.facts.camera
    return ClipEvidence(
        body=(camera.make or "", camera.model or "", camera.serial or ""),
        iso=measured.facts.exposure.iso or 0.0,
        bit_depth=measured.mosaic.bit_depth,
        planes=tuple(_plane_evidence(plane) for plane in measured.mosaic.planes),
    )


def _plane_evidence(plane: PlaneMeasurement) -> PlaneEvidence:
    return PlaneEvidence(plane.name, plane.white_dn, plane.pile_up, _top_dn(plane))


def _top_dn(plane: PlaneMeasurement) -> int:
    """Return the highest DN with more than a hundred-thousandth of the plane at or above it."""
    histogram = plane.histogram
    few = plane.hot_count + max(3, round(plane.pixels * ABOVE_TAG_SHARE))
    above = histogram.counts[::-1].cumsum()
    reached = int((above <= few).sum())
    return histogram.last_dn - reached


def settle_levels(
    evidence: Mapping[str, ClipEvidence], history: LevelHistory | None = None
) -> dict[str, tuple[Level, ...]]:
    """Settle the saturation of every plane of every frame.

    Parameters
    ----------
    evidence : mapping of frame id to ClipEvidence
    history : LevelHistory, optional

    Returns
    -------
    dict
        Frame id to one :class:`Level` a plane, in order.
    """
    sisters = _pile_ups(evidence.values())
    remembered = history or LevelHistory()
    return {
        frame_id: _settle_frame(frame, sisters, remembered) for frame_id, frame in evidence.items()
    }


def _pile_ups(frames: Iterable[ClipEvidence]) -> dict[LevelKey, list[PileUp]]:
    pile_ups: dict[LevelKey, list[PileUp]] = defaultdict(list)
    for frame in frames:
        for plane in frame.planes:
            if plane.pile_up is not None:
                pile_ups[frame.key(plane.name)].append(plane.pile_up)
    return pile_ups


def _settle_frame(
    frame: ClipEvidence, sisters: Mapping[LevelKey, list[PileUp]], history: LevelHistory
) -> tuple[Level, ...]:
    levels = [_settle_plane(frame, plane, sisters, history) for plane in frame.planes]
    return tuple(
        _from_other_planes(plane, level, frame, levels) if level.source == "metadata" else level
        for plane, level in zip(frame.planes, levels, strict=True)
    )


def _settle_plane(
    frame: ClipEvidence,
    plane: PlaneEvidence,
    sisters: Mapping[LevelKey, list[PileUp]],
    history: LevelHistory,
) -> Level:
    if not frame.has_sisters:
        sisters, history = {}, LevelHistory()
    pile_ups = sisters.get(frame.key(plane.name), [])
    shoot = _middle([(heap.level_dn, heap.from_dn) for heap in pile_ups])
    if plane.pile_up is not None and not _is_outlier(plane.pile_up, shoot, len(pile_ups)):
        return Level(plane.pile_up.level_dn, plane.pile_up.from_dn, "measured")
    past = _middle(history.levels.get(frame.key(plane.name), ()))
    for found, source in ((shoot, "shoot"), (past, "history")):
        if found is not None and plane.top_dn <= found[0] * (1 + OUTLIER_SHARE / 3):
            return Level(found[0], found[1], source)
    return _claimed(plane)


def _middle(levels: Iterable[tuple[float, float]]) -> tuple[float, float] | None:
    pairs = list(levels)
    if not pairs:
        return None
    return median(pair[0] for pair in pairs), median(pair[1] for pair in pairs)


def _is_outlier(heap: PileUp, shoot: tuple[float, float] | None, count: int) -> bool:
    """Whether the pile-up lies off the others; ``count`` includes the pile-up itself."""
    far = shoot is not None and abs(heap.level_dn / shoot[0] - 1) > OUTLIER_SHARE
    return far and count > LEAST_SISTERS


def _claimed(plane: PlaneEvidence) -> Level:
    """Take the file's claim, raised to what the data reach: no clipping was measured."""
    if plane.top_dn > plane.white_dn:
        note = (
            f"The data reach {plane.top_dn} DN although the file claims {plane.white_dn:.0f}: "
            "the level is at least that, where it clips is not known."
        )
        return Level(float(plane.top_dn), float(plane.top_dn) + 1.0, "metadata", (note,))
    return Level(plane.white_dn, plane.white_dn, "metadata")


def _from_other_planes(
    plane: PlaneEvidence, level: Level, frame: ClipEvidence, levels: list[Level]
) -> Level:
    """Channels of one sensor clip close together: better than a claim that others disprove.

    This channel's own clipping was seen by no frame: what another measured here is lent to it.
    """
    found = [
        other
        for name, other in zip((p.name for p in frame.planes), levels, strict=True)
        if other.source != "metadata" and name != plane.name
    ]
    usable = _middle([(other.saturation_dn, other.blown_from_dn) for other in found])
    if usable is None or plane.top_dn > usable[0]:
        return level
    note = "Too little clips in this channel to tell where: the level is the other channels'."
    past = all(other.source == "history" for other in found)
    return Level(usable[0], usable[1], "history" if past else "shoot", (note,))
