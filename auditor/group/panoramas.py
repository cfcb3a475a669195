"""Panned runs: framings that follow each other at once, each overlapping the one before it.

Frames are walked in order of time; frames of one set-up in a row are one place. So a view that
is panned twice makes two runs, though its framings come back.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

import numpy as np

from auditor.group.levels import settings_stops
from auditor.group.likeness import Likeness
from auditor.group.limits import (
    ALIKE,
    ASLANT,
    BLOWN_SHARE,
    HALF_ALIKE,
    HALF_STRONG,
    LEAST_CORRELATION,
    LEAST_STRONG,
    LIKE_TURN,
    MANY_STRONG,
    NARROW,
    NARROW_CORRELATION,
    PANORAMA_LEAST_OVERLAP,
    PANORAMA_LEAST_STEP,
    SAME_STEP,
    STEP_GAP_S,
    WEAK_CORRELATION,
    WHITE_BALANCE_STOPS,
)
from auditor.group.refusals import Refusals
from auditor.group.setups import SetupShots
from auditor.group.shift import Comparer
from auditor.group.shots import Shot, gap_s
from auditor.model.audit import Panorama
from auditor.model.rejected import GroupKind, Reason, Why
from auditor.model.remark import Remark, RemarkCode, remark
from auditor.model.settings import GroupSettings

REACH = (0.3, 0.9)


@dataclass(frozen=True, slots=True)
class _Step:
    """From one framing to the next: by how much of a frame, and what both show.

    ``against`` is what speaks against it, ``alike`` how well both match: 0 where only one part
    does, or where their strong parts are others.
    """

    right: float
    down: float
    overlap: float
    against: Why | None = None
    alike: float = 0.0

    def bears_out(self, weak: _Step, *, before: bool) -> bool:
        """Tell whether a weak step beside this one is the same turn; hands rise and fall."""
        right, down = abs(self.right - weak.right), abs(self.down - weak.down)
        if before and weak.alike >= WEAK_CORRELATION and np.hypot(right, down) <= SAME_STEP:
            return True
        across = max(min(abs(one.right), abs(one.down)) for one in (self, weak))
        along = right if abs(self.right) > abs(self.down) else down
        return weak.alike >= HALF_ALIKE and across <= ASLANT and along <= LIKE_TURN


def in_time(setups: Sequence[SetupShots]) -> list[tuple[Shot, int]]:
    """Return the frames of all set-ups in order of time, each with the place of its set-up."""
    owned = [(shot, number) for number, setup in enumerate(setups) for shot in setup.shots]
    if all(shot.start_s is not None for shot, _ in owned):
        owned.sort(key=lambda pair: pair[0].start_s or 0.0)
    return owned


def find_panoramas(
    setups: Sequence[SetupShots],
    settings: GroupSettings,
    comparer: Comparer,
    refusals: Refusals,
    at_end: Refusals | None = None,
) -> Iterator[Panorama]:
    """Yield the panoramas of one body; what is refused of the last run is kept apart."""
    # a place is what was taken in a row of one set-up
    parts = groupby(in_time(setups), key=lambda pair: pair[1])
    places = [[shot for shot, _ in part] for _, part in parts]
    tried = _borne_out([_step(*two, comparer) for two in pairwise(places)])
    chain, steps = places[:1], list[_Step]()
    for place, step in zip(places[1:], tried, strict=True):
        unlike = None
        if isinstance(step, _Step) and steps:
            # a run goes one way, by about as much each time
            way = np.median([[s.right, s.down] for s in steps], axis=0)
            off = float(np.hypot(step.right - way[0], step.down - way[1]))
            most = ALIKE * max(0.15, float(np.hypot(*way)))
            unlike = Why(Reason.UNLIKE_STEP, off, most) if off > most else None
        if isinstance(step, _Step) and unlike is None:
            chain.append(place)
            steps.append(step)
            continue
        why = step if isinstance(step, Why) else unlike
        if why is not None:
            refusals.add(GroupKind.PANORAMA, (chain[-1][-1].id, place[0].id), why)
        yield from _run(chain, steps, settings, refusals)
        chain, steps = ([chain[-1], place], [step]) if isinstance(step, _Step) else ([place], [])
    yield from _run(chain, steps, settings, at_end or refusals)


def _borne_out(tried: Sequence[_Step | Why]) -> list[_Step | Why]:
    """Believe a weak step where the one before it or after it, believed, is the same turn."""
    told = list(tried)
    forth = [(number, number - 1) for number in range(1, len(told))]
    for number, beside in (*forth, *((b, a) for a, b in reversed(forth))):
        step, other = told[number], told[beside]
        if not isinstance(step, _Step) or not isinstance(other, _Step):
            continue
        if other.against is None and other.bears_out(step, before=beside < number):
            told[number] = replace(step, against=None)
    return [
        step.against if isinstance(step, _Step) and step.against is not None else step
        for step in told
    ]


def _step(before: Sequence[Shot], after: Sequence[Shot], comparer: Comparer) -> _Step | Why:
    """Tell by how much the camera was turned, or why it was not."""
    gap = gap_s(before[-1], after[0])
    if gap is not None and not -1.0 <= gap <= STEP_GAP_S:
        return Why(Reason.TOO_LATE, gap, STEP_GAP_S)
    pairs = [(a.image, b.image) for a in reversed(before) for b in after]
    stops = settings_stops([shot for a in reversed(before) for b in after for shot in (a, b)])
    apart = np.nan_to_num(np.abs(stops[::2] - stops[1::2]), nan=0.0).round(1)
    first, second = pairs[int(np.argmin(apart))]  # the most alike of their exposures, the nearest
    if first.shape != second.shape:
        return Why(Reason.OTHER_SIZE)
    likeness = comparer.compare(
        first, second, REACH, least_overlap=PANORAMA_LEAST_OVERLAP, lean=0.0
    )
    rows, cols = first.shape
    right, down = likeness.right / cols, likeness.down / rows
    overlap = max(0.0, 1.0 - abs(right)) * max(0.0, 1.0 - abs(down))
    step = _Step(right, down, overlap)
    if max(abs(right), abs(down)) < PANORAMA_LEAST_STEP:
        return Why(Reason.STEP_TOO_SMALL, max(abs(right), abs(down)), PANORAMA_LEAST_STEP)
    ballot = likeness.ballot
    other_rocks = ballot.strong >= MANY_STRONG and ballot.strong_agreement < HALF_STRONG
    alike = likeness.correlation if ballot.agreeing >= 2 and not other_rocks else 0.0
    return replace(step, against=_no_overlap(likeness, step), alike=alike)


def _no_overlap(likeness: Likeness, step: _Step) -> Why | None:
    """Tell what speaks against a part of one view, turned one way, and for two places alike."""
    ballot = likeness.ballot
    least = LEAST_CORRELATION if step.overlap >= NARROW else NARROW_CORRELATION
    if likeness.correlation < least:
        return Why(Reason.LITTLE_ALIKE, likeness.correlation, least)
    if min(abs(step.right), abs(step.down)) > ASLANT:
        return Why(Reason.ASLANT, min(abs(step.right), abs(step.down)), ASLANT)
    least_agreeing = 4  # blocks: fewer may agree by chance
    if ballot.agreeing < least_agreeing:
        return Why(Reason.PARTS_DISAGREE, ballot.agreeing, least_agreeing)
    if ballot.strong_agreement < LEAST_STRONG:
        return Why(Reason.LITTLE_ALIKE, ballot.strong_agreement, LEAST_STRONG)
    return None


def _run(
    chain: Sequence[list[Shot]],
    steps: Sequence[_Step],
    settings: GroupSettings,
    refusals: Refusals,
) -> Iterator[Panorama]:
    least_places = 3  # framings that make a run: two alone are as likely a picture framed anew
    if len(chain) < least_places:
        if len(chain) > 1:
            ends = (chain[0][-1].id, chain[-1][0].id)
            why = Why(Reason.TOO_FEW_FRAMES, len(chain), least_places)
            refusals.add(GroupKind.PANORAMA, ends, why)
        return
    # what was taken at the first framing before the run, and at the last after it, is left out
    usual = int(np.median([len(place) for place in chain[1:-1]]))
    places = [chain[0][-usual:], *chain[1:-1], chain[-1][:usual]]
    shots = [shot for place in places for shot in place]
    overlaps: list[float] = []
    for number, place in enumerate(places):
        overlaps.extend([1.0] * (len(place) - 1))
        if number < len(steps):
            overlaps.append(round(steps[number].overlap, 3))
    stops = settings_stops(shots)
    if np.isfinite(stops).all() and len({len(place) for place in places}) == 1:
        # as many frames of each framing, a bracket each: the darkest are held against the darkest
        # and so on up, for the steps of a bracket are no change
        brackets = np.sort(stops.reshape(len(places), -1), axis=1)
        spread = float(np.ptp(brackets, axis=0).max())
    else:
        known = stops[np.isfinite(stops)]
        spread = float(np.ptp(known)) if len(known) else 0.0
    yield Panorama(
        frames=tuple(shot.id for shot in shots),
        exposure_spread_stops=round(spread, 3),
        overlaps=tuple(overlaps),
        remarks=tuple(_remarks(shots, spread, overlaps, settings)),
    )


def _remarks(
    shots: Sequence[Shot], spread: float, overlaps: Sequence[float], settings: GroupSettings
) -> Iterator[Remark]:
    if spread > settings.exposure_tolerance_stops:
        yield remark(RemarkCode.EXPOSURE_CHANGED, stops=spread)
    balances = [[shot.facts.white_balance.get(name) or 0.0 for shot in shots] for name in "RB"]
    known = [np.log2([value for value in told if value > 0]) for told in balances]
    if any(len(told) and np.ptp(told) > WHITE_BALANCE_STOPS for told in known):
        yield remark(RemarkCode.WHITE_BALANCE_CHANGED)
    for shot in shots:
        blown = float(shot.image.lost_bright.astype(np.float32).mean())
        if blown >= BLOWN_SHARE:
            yield remark(RemarkCode.FRAME_BLOWN, frame=shot.id, share=blown)
    if overlaps and min(overlaps) < 0.2:
        yield remark(RemarkCode.LITTLE_OVERLAP, share=min(overlaps))
