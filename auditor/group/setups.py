"""Set-ups: frames of one tripod position and one framing.

Frames of one body are taken in order; each joins the latest set-up whose gear fits and whose
content matches (:mod:`auditor.group.shift`), else it starts a set-up of its own. A frame too
dark or too bright to be compared goes with the frame just before it. Dark frames (cap on)
belong to no composition.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import product

import numpy as np

from auditor.group.likeness import Likeness
from auditor.group.limits import (
    BETTER_BY,
    BLIND_GAP_S,
    FOCAL_SLACK,
    LOST_OVERLAP,
    MANY_STRONG,
    MOVED_ERRORS,
    MOVED_LEAST_PX,
    PROFILE_GAP_S,
    ROUGH_ERROR_TILES,
    ROWS_AGREE,
    SETUP_LEAST_OVERLAP,
    SHIFT_LIMIT,
    SMOOTH_S,
    SMOOTH_TIMES,
    STEADY_STOPS,
    STRONG_AGREE,
    SURE_CORRELATION,
    UNSURE_CORRELATION,
    UNSURE_ERROR_TILES,
    UNSURE_STRONG,
    UNSURE_TIMES,
)
from auditor.group.refusals import Refusals
from auditor.group.shift import Comparer
from auditor.group.shots import AFTER_JUMP_S, Shot, gap_s
from auditor.group.tile_image import TileImage, turned_like
from auditor.light.exposure import exposure_difference_stops
from auditor.model.audit import Setup
from auditor.model.codes import ShiftSource
from auditor.model.facts import FileFacts
from auditor.model.rejected import GroupKind, Reason, Why
from auditor.model.remark import Remark, RemarkCode, remark
from auditor.model.settings import GroupSettings

REACH = (0.2, 0.16)
"""Shifts looked at, shares of height and width: wider than the limit, so that a new framing is
seen as one."""

FAR = (0.3, 0.85)
"""Shifts between the frames of a panorama."""


OPEN_SETUPS = 6
"""How many set-ups back a frame may return to."""


NEAREST_TOLD = 2
"""Of so many set-ups before it is kept why a frame does not belong to them."""


@dataclass(slots=True, eq=False)
class SetupShots:
    """A set-up with what the later steps work on.

    Parameters
    ----------
    shots : list of Shot
        In order of time.
    shifts : list of (right, down) or None
        Tiles by which each picture lies to the right and lower than that of the reference.
    alike : list of float or None
        Correlation of each picture with the one that its shift was told by; None where it was
        compared with none.
    errors : list of float
        Standard error of each shift, tiles.
    reference : int
        The frame that they are told against: the first, unless patches say more of another.
    by_patches : set of int
        Which of them were told by patches, not by tiles.
    """

    shots: list[Shot] = field(default_factory=list)
    shifts: list[tuple[float, float] | None] = field(default_factory=list)
    alike: list[float | None] = field(default_factory=list)
    errors: list[float] = field(default_factory=list)
    reference: int = 0
    by_patches: set[int] = field(default_factory=set)
    remarks: list[Remark] = field(default_factory=list)

    def add(
        self,
        shot: Shot,
        shift: tuple[float, float] | None,
        alike: float | None = None,
        error: float = 0.0,
    ) -> None:
        """Take in one more frame."""
        self.shots.append(shot)
        self.shifts.append(shift)
        self.alike.append(alike)
        self.errors.append(error)
        if shot.image.orientation != (shot.facts.orientation or 1):
            self.remarks.append(remark(RemarkCode.OTHER_TAG, frame=shot.id))
        if shot.clock_was_set:
            self.remarks.append(remark(RemarkCode.CLOCK_SET, frame=shot.id))

    def placed(self, index: int) -> tuple[float, float]:
        """Return a frame's shift; a frame that others match has not moved, as far as is known."""
        shift = self.shifts[index]
        if shift is None:
            shift = self.shifts[index] = (0.0, 0.0)
        return shift


@dataclass(frozen=True, slots=True)
class Verdict:
    """How a frame lies to those of a set-up, or why it is not one of them."""

    same: bool
    shift: tuple[float, float] | None
    blind: bool
    alike: float | None = None
    why: Why | None = None
    turned: Shot | None = None
    error: float = 0.0


def sorted_out(
    shots: Sequence[Shot], settings: GroupSettings, comparer: Comparer, refusals: Refusals
) -> list[SetupShots]:
    """Sort the frames of one body, in order of time, into set-ups, the latest used one last."""
    setups: list[SetupShots] = []
    for shot in shots:
        found, verdict = _home(shot, setups, settings, comparer, refusals)
        if found is None:
            setups.append(SetupShots())
            setups[-1].add(shot, (0.0, 0.0))
        else:
            found.add(verdict.turned or shot, verdict.shift, verdict.alike, verdict.error)
            setups.remove(found)
            setups.append(found)
    return setups


def _home(
    shot: Shot,
    setups: Sequence[SetupShots],
    settings: GroupSettings,
    comparer: Comparer,
    refusals: Refusals,
) -> tuple[SetupShots | None, Verdict]:
    """Find the set-up of one frame, and how it lies there; else keep why the latest are not it."""
    against: list[tuple[str, Why]] = []
    latest = setups[-1] if setups else None
    blind: SetupShots | None = None
    for setup in reversed(setups[-OPEN_SETUPS:]):
        gap = gap_s(setup.shots[-1], shot)
        apart = _other_gear(setup.shots[-1].facts, shot.facts)
        if gap is not None and gap > settings.setup_gap_s:
            apart = Why(Reason.TOO_LATE, gap, settings.setup_gap_s)
        if apart is not None:
            against.append((setup.shots[-1].id, apart))
            continue
        verdict = _judged(setup, shot, gap if setup is latest else float("inf"), comparer)
        if verdict.same:
            return setup, verdict
        if verdict.why is not None:
            against.append((setup.shots[-1].id, verdict.why))
        if verdict.blind and setup is latest and gap is not None and gap <= BLIND_GAP_S:
            blind = setup
    for other, why in against[:NEAREST_TOLD] if blind is None else []:
        refusals.add(GroupKind.SETUP, (other, shot.id), why)
    return blind, Verdict(False, None, True)


def joined_over_jumps(
    setups: Sequence[SetupShots], settings: GroupSettings, comparer: Comparer
) -> list[SetupShots]:
    """Join set-ups that only a jump of the camera's clock parts.

    The camera's count goes on without a gap, the picture is the same, and two of the frames
    show the same light: no time has passed.
    """
    joined: list[SetupShots] = []
    for setup in setups:
        before = joined[-1] if joined else None
        same = None if before is None else _over_jump(before, setup, settings, comparer)
        shift = None if same is None else same.shift
        if before is None or same is None or shift is None:
            joined.append(setup)
            continue
        slip_s = (gap_s(before.shots[-1], setup.shots[0]) or 0.0) - AFTER_JUMP_S
        for i, (shot, own) in enumerate(zip(setup.shots, setup.shifts, strict=True)):
            start_s = None if shot.start_s is None else shot.start_s - slip_s
            moved = None if own is None else (own[0] + shift[0], own[1] + shift[1])
            set_here = i == 0 or shot.clock_was_set
            alike = same.alike if i == 0 else setup.alike[i]
            error = math.hypot(same.error, setup.errors[i])
            before.add(replace(shot, start_s=start_s, clock_was_set=set_here), moved, alike, error)
    return joined


def _over_jump(
    before: SetupShots, after: SetupShots, settings: GroupSettings, comparer: Comparer
) -> Verdict | None:
    """Return how one set-up lies to another that it goes on, else None."""
    verdict = beyond_jump(before, after, settings, comparer)
    for old, new in product(before.shots[-3:], after.shots[:4]) if verdict.same else ():
        # two matching frames that show the same light, exposure divided out
        difference = exposure_difference_stops(
            new.facts.exposure, old.facts.exposure, absent_is_same=True
        )
        if difference is None or old.image.shape != new.image.shape:
            continue
        change = new.image.stops(old.image.main) - old.image.stops(old.image.main)
        seen = int(np.isfinite(change).sum()) >= 50
        if seen and abs(float(np.nanmedian(change)) - difference) <= STEADY_STOPS:
            return verdict
    return None


def beyond_jump(
    before: SetupShots, after: SetupShots, settings: GroupSettings, comparer: Comparer
) -> Verdict:
    """Tell whether the camera's count goes on over a gap in time, with the same picture."""
    first = after.shots[0]
    if not only_time_parts(before.shots[-1], first, settings):
        return Verdict(False, None, True)
    return _judged(before, first, float("inf"), comparer)


def only_time_parts(last: Shot, first: Shot, settings: GroupSettings) -> bool:
    """Whether nothing but time parts two frames, as far as can be told without pictures."""
    gap = gap_s(last, first)
    too_late = gap is not None and gap > settings.setup_gap_s
    return too_late and first.follows(last) and _other_gear(last.facts, first.facts) is None


def _other_gear(first: FileFacts, second: FileFacts) -> Why | None:
    """Tell where lens or focal length differ; what a file does not tell fits all."""
    a, b = first.lens, second.lens
    if a.model and b.model and a.model != b.model:
        return Why(Reason.OTHER_LENS)
    if a.focal_mm and b.focal_mm:
        off = abs(a.focal_mm / b.focal_mm - 1.0)
        return Why(Reason.OTHER_FOCAL_LENGTH, off, FOCAL_SLACK) if off > FOCAL_SLACK else None
    return None


def _judged(setup: SetupShots, shot: Shot, gap: float | None, comparer: Comparer) -> Verdict:
    """Compare a frame with those of a set-up, and once more as it lies on the sensor.

    A camera that looks straight down turns its orientation tag as it likes.
    """
    verdict = _compared(setup, shot, gap, comparer)
    tag = setup.shots[0].image.orientation
    if verdict.same or shot.image.orientation == tag:
        return verdict
    turned = replace(shot, image=turned_like(shot.image, tag))
    on_sensor = _compared(setup, turned, None, comparer)
    return replace(on_sensor, turned=turned) if on_sensor.same else verdict


def _compared(setup: SetupShots, shot: Shot, gap: float | None, comparer: Comparer) -> Verdict:
    """Compare a frame with the first and the latest frames of a set-up."""
    blind, why = True, None
    count = len(setup.shots)
    for index in (0, *range(count - 1, max(0, count - 4), -1)):
        other = setup.shots[index].image
        likeness = comparer.compare(other, shot.image, REACH)
        times = setup.shots[index].time_s, shot.time_s
        if max(times) >= SMOOTH_S and max(times) >= SMOOTH_TIMES * min(times):
            ballot = likeness.ballot.of_strong(first=times[0] > times[1])
            likeness = replace(likeness, ballot=ballot)
        still = _within(likeness, shot.image) and likeness.matches
        if not still and likeness.overlap < LOST_OVERLAP:
            unmoved = comparer.compare_still(other, shot.image)
            still = (
                unmoved.overlap >= SETUP_LEAST_OVERLAP and unmoved.correlation >= SURE_CORRELATION
            )
            likeness = unmoved if still else likeness
        # nothing but sky and water is seen, and the horizon lies where it lay
        soon = gap is not None and gap <= PROFILE_GAP_S and likeness.featureless
        alike = still or (soon and likeness.level_rows >= ROWS_AGREE)
        doubted = _unsure(likeness) if still else None
        if alike and doubted is None:
            doubted = _better_turned(likeness, other, shot.image, comparer)
        if alike and doubted is None:
            base = setup.placed(index)
            moved = (base[0] + likeness.right, base[1] + likeness.down)
            error = math.hypot(setup.errors[index], error_tiles(likeness))
            return Verdict(True, moved if still else base, False, likeness.correlation, error=error)
        blind = blind and other.shape == shot.image.shape and not likeness.can_tell
        why = doubted or _unlike(likeness, other, shot.image)
    return Verdict(False, None, blind, why=why)


def error_tiles(likeness: Likeness) -> float:
    """Return the standard error of a shift, that was refined or not."""
    if likeness.error_tiles is not None:
        return likeness.error_tiles
    unsure = likeness.correlation < SURE_CORRELATION
    return ROUGH_ERROR_TILES * (UNSURE_TIMES if unsure else 1.0)


def _unlike(likeness: Likeness, first: TileImage, second: TileImage) -> Why | None:
    """Tell why two pictures are not one composition."""
    if first.shape != second.shape:
        return Why(Reason.OTHER_SIZE)
    if likeness.against is None:
        moved = max(abs(likeness.right), abs(likeness.down)) / max(second.shape)
        return Why(Reason.PICTURE_MOVED, moved, SHIFT_LIMIT)
    return likeness.against


def _unsure(likeness: Likeness) -> Why | None:
    """Tell whether a weak match lacks what else one view shows.

    Rocks that stand still tell their shift to parts of a tile, or are the same block by block in
    what is strong in one of the two: other rocks are alike here and there only. Where the picture
    lies just where it lay, they need not be so to the last wave that breaks on them. Over little
    but water the waves rule how alike the whole is, and a few blocks tell no more.
    """
    error, ballot = likeness.error_tiles, likeness.ballot
    told = error is not None and error <= UNSURE_ERROR_TILES
    if likeness.correlation >= UNSURE_CORRELATION or told or ballot.strong < MANY_STRONG:
        return None
    steady = max(abs(likeness.right), abs(likeness.down)) <= ROUGH_ERROR_TILES * UNSURE_TIMES
    least = STRONG_AGREE if steady else UNSURE_STRONG
    agreement = max(ballot.strong_agreement, ballot.strong_first[1], ballot.strong_second[1])
    return Why(Reason.LITTLE_ALIKE, agreement, least) if agreement < least else None


def _better_turned(
    likeness: Likeness, first: TileImage, second: TileImage, comparer: Comparer
) -> Why | None:
    """Tell whether two frames match far better as neighbours in a panorama.

    Rocks and headlands look alike: a turned camera may find another one where the first stood.
    """
    if likeness.correlation >= SURE_CORRELATION:
        return None
    turned = comparer.compare(first, second, FAR, least_overlap=0.15, lean=0.0)
    bar = likeness.correlation + BETTER_BY
    if turned.matches and turned.correlation >= bar and not _within(turned, second):
        return Why(Reason.CAMERA_TURNED, turned.correlation, bar)
    return None


def _within(likeness: Likeness, image: TileImage) -> bool:
    limit = SHIFT_LIMIT * max(image.shape)
    return max(abs(likeness.right), abs(likeness.down)) <= limit


def setup_record(setup: SetupShots, number: int) -> Setup:
    """Make the public record of a set-up."""
    first = setup.shots[0]
    tile_px, on_patches = first.image.tile_px, setup.by_patches
    digits = [2 if at in on_patches else 1 for at in range(len(setup.shots))]
    shifts = tuple(
        None if own is None else (round(own[0] * tile_px, places), round(own[1] * tile_px, places))
        for own, places in zip(setup.shifts, digits, strict=True)
    )
    errors = tuple(
        None if shift is None else round(error * tile_px, places)
        for shift, error, places in zip(setup.shifts, setup.errors, digits, strict=True)
    )
    sources = tuple(
        None
        if shift is None or at == setup.reference
        else ShiftSource.PATCHES
        if at in on_patches
        else ShiftSource.TILES
        for at, shift in enumerate(shifts)
    )
    remarks, last, before_px = list(setup.remarks), shifts[0], errors[0]
    for shot, shift, error_px in zip(setup.shots, shifts, errors, strict=True):
        if shift is None or error_px is None:
            remarks.append(remark(RemarkCode.SHIFT_UNTOLD, frame=shot.id))
            continue
        # whether the picture moved against the frame before, beyond the error
        moved, error = math.dist(shift, last or shift), math.hypot(error_px, before_px or 0.0)
        if moved >= least_moved_px(error):
            told = remark(RemarkCode.KNOCKED, frame=shot.id, moved_px=moved, error_px=error)
            remarks.append(told)
        last, before_px = shift, error_px
    focal = next((s.facts.lens.focal_mm for s in setup.shots if s.facts.lens.focal_mm), None)
    return Setup(
        id=f"S{number:02d}",
        frames=tuple(shot.id for shot in setup.shots),
        started_at=first.facts.captured_at,
        focal_mm=focal,
        shift_px=shifts,
        shift_correlation=tuple(None if r is None else round(r, 3) for r in setup.alike),
        shift_error_px=errors,
        shift_source=sources,
        shift_reference=setup.shots[setup.reference].id,
        remarks=tuple(remarks),
    )


def least_moved_px(error_px: float) -> float:
    """Return from where on a step between two frames is a shift, not an error of measuring it."""
    return max(float(MOVED_LEAST_PX), MOVED_ERRORS * error_px)
