"""Settings for next time, set-up by set-up: the same light once more, a third of a stop under.

What belongs together shares its settings: the unfiltered frames of a set-up, and all frames of a
panorama; behind a graduated filter only the frames that had it. They start from the latest frame
that was placed to be a picture: neither a mistake, nor the dark or the bright end of a bracket.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace

from auditor.advise.dial import (
    Dialled,
    base_iso,
    behind,
    dial,
    own_filters,
    remedies,
    trail_s,
)
from auditor.advise.graduated import Graduated
from auditor.advise.limits import (
    LONG_BEHIND_S,
    LONGER_STOPS,
    MARGIN_STOPS,
    ROWS_GAP_S,
    STEADY_STOPS_PER_MIN,
    WIND_FROM_S,
    WIND_UNTIL_S,
)
from auditor.advise.most_light import (
    MostLight,
    PlainShot,
    frame_stops,
    most_light,
    plain_shots,
)
from auditor.history.shots import retaken
from auditor.light.filters import rematched
from auditor.light.nominal import DIAL_SLACK
from auditor.model.advice import FilterVerdict, NextTime
from auditor.model.audit import FrameResult, Setup
from auditor.model.codes import Loss, Verdict
from auditor.model.facts import FileFacts
from auditor.model.findings import Figure
from auditor.model.grouping import Grouping
from auditor.model.history import KnownFilter
from auditor.model.remark import Remark, RemarkCode, remark


def with_next_time(
    results: Mapping[str, FrameResult],
    grouping: Grouping,
    filters: Sequence[FilterVerdict],
    known: Sequence[KnownFilter] = (),
) -> Grouping:
    """Put to every set-up its settings for next time, where its frames tell them.

    Parameters
    ----------
    results : mapping of frame id to FrameResult
    grouping : Grouping
    filters : sequence of FilterVerdict
        What was measured in this shoot; their times are told.
    known : sequence of KnownFilter
        Filters of earlier shoots; told as well.
    """
    shots = plain_shots(results, grouping)
    own = own_filters(filters, known)
    # of a bracket the middle frame is what was metered
    ends: set[str] = set()
    for bracket in grouping.brackets:
        given = [results[name] for name in bracket.frames if name in results]
        given.sort(key=lambda frame: frame_stops(frame) or 0.0)
        middle = (len(given) - 1) // 2
        ends |= {frame.id for place, frame in enumerate(given) if place != middle}
    again = retaken(list(results.values())) - {
        frame for bracket in grouping.brackets for frame in bracket.frames
    }
    true_isos = {
        frame.exposure.iso: frame.exposure.true_iso
        for frame in results.values()
        if frame.exposure.iso and frame.exposure.true_iso
    }
    graduated = Graduated(grouping)
    told: dict[str, NextTime] = {}
    for members in _together(grouping, results):
        found = [shot for setup in members for shot in shots.get(setup, ())]
        bare = [shot for shot in found if shot.id not in graduated.behind]
        held = any(shot.frame.verdict == Verdict.HELD for shot in bare)
        grad = graduated.advice(members, [shot.id for shot in bare], held=held)
        # the times of frames behind a grad hold for the same grad once more
        same = [shot for shot in found if grad and graduated.behind.get(shot.id) == grad.stops]
        joint = same or bare or found
        if joint:
            # the frames of a panorama follow each other too fast for a filter's times
            mine = own if len(members) == 1 else []
            advice = _advice(joint, ends, again, mine, true_isos)
            told |= dict.fromkeys(members, replace(advice, grad=grad))
    setups = tuple(replace(setup, next_time=told.get(setup.id)) for setup in grouping.setups)
    return replace(grouping, setups=setups)


def _advice(
    joint: Sequence[PlainShot],
    ends: Collection[str],
    again: Collection[str],
    own: Sequence[tuple[str, float]],
    true_isos: Mapping[float, float],
) -> NextTime:
    """Work out the settings for frames that share them.

    Parameters
    ----------
    ends, again : collection of str
        Dark and bright ends of brackets; frames that were taken again at once.
    own : sequence of (name, stops)
        Filters whose times are told.
    """
    placed = [shot for shot in joint if shot.id not in ends] or joint
    sound = [shot for shot in placed if not shot.grave]
    least = min(placed, key=lambda shot: shot.frame.blown_fraction or 0.0)
    ref = sound[-1] if sound else least
    most, drift = most_light(joint, ref), ref.drift or 0.0
    settings = dial(most.stops, ref, base_iso(joint), true_isos)
    remarks = [
        _limit(most, len(joint), panorama=len({shot.setup for shot in joint}) > 1),
        *(
            remark(RemarkCode.RETAKEN, frame=shot.id, time_s=_dial_s(shot.frame))
            for shot in joint
            if shot.id in again and shot is not most.shot
        ),
        *_changes(ref, settings, true_isos),
        *remedies(settings, own, drift),
    ]
    if own and abs(drift) >= STEADY_STOPS_PER_MIN:
        remarks.append(remark(RemarkCode.DRIFT_ALLOWED, drift_stops_per_min=drift))
    return NextTime(
        time_s=settings.time_s,
        f_number=settings.f_number,
        iso=settings.iso,
        frame=ref.id,
        change_stops=round(settings.stops - ref.stops, 4),
        headroom_stops=round(most.stops + MARGIN_STOPS - settings.stops, 4),
        joint=tuple(shot.id for shot in joint),
        behind=behind(settings, own, drift),
        remarks=tuple(remarks),
    )


def _together(grouping: Grouping, results: Mapping[str, FrameResult]) -> Iterator[tuple[str, ...]]:
    """Yield the ids of set-ups that share their settings: those of a panorama, else each alone.

    Panoramas that are rows of one view are one.
    """
    home = {frame: setup.id for setup in grouping.setups for frame in setup.frames}
    views: list[tuple[str, ...]] = []
    for row in (one.frames for one in grouping.panoramas):
        last, first = results.get(views[-1][-1]) if views else None, results.get(row[0])
        next_row = False
        if last and first and (last.lens, last.camera) == (first.lens, first.camera):
            end_s = FileFacts(captured_at=last.captured_at).clock_s
            begin_s = FileFacts(captured_at=first.captured_at).clock_s
            stops = frame_stops(last)
            next_row = (
                end_s is not None
                and begin_s is not None
                and 0.0 <= begin_s - end_s <= ROWS_GAP_S
                and stops is not None
                and stops == frame_stops(first)
            )
        if next_row:
            views[-1] += row
        else:
            views.append(row)
    taken: set[str] = set()
    for frames in views:
        members = tuple(dict.fromkeys(home[frame] for frame in frames if frame in home))
        if members and taken.isdisjoint(members):
            taken.update(members)
            yield members
    yield from ((setup.id,) for setup in grouping.setups if setup.id not in taken)


def _limit(most: MostLight, frames: int, *, panorama: bool) -> Remark:
    """Tell which frame sets the limit, and by what."""
    frame = most.shot.frame
    own: dict[str, Figure] = {"frame": frame.id, "time_s": _dial_s(frame)}
    if most.limit is RemarkCode.HEADROOM_LIMITS:
        own |= {"headroom_stops": frame.headroom_stops, "frames": frames, "panorama": panorama}
    elif most.limit is RemarkCode.GLINTS_CLIP:
        own |= {"share": frame.blown_fraction or 0.0, "patch": frame.loss == Loss.PATCH}
    else:
        own |= {"frames": frames}
    return remark(most.limit, **own)


def _dial_s(frame: FrameResult) -> float | None:
    return frame.exposure.nominal_time_s or frame.exposure.time_s


def _changes(
    ref: PlainShot, settings: Dialled, true_isos: Mapping[float, float]
) -> Iterator[Remark]:
    """Tell what changes against a frame's settings beside the time, and what a longer time asks."""
    before, time_s = ref.frame.exposure, settings.time_s
    if before.iso and settings.iso and settings.iso < before.iso:
        now, then = (true_isos.get(iso, iso) for iso in (settings.iso, before.iso))
        yield remark(
            RemarkCode.LOWER_ISO, iso=settings.iso, before=before.iso, stops=math.log2(then / now)
        )
    if before.f_number and settings.f_number and settings.f_number < before.f_number:
        yield remark(RemarkCode.WIDER, f_number=settings.f_number, before=before.f_number)
    points_s = trail_s(ref.frame)
    if before.iso and settings.iso and settings.iso > before.iso:
        more = math.log2(settings.iso / before.iso)
        on_bulb = rematched(time_s, more, ref.drift or 0.0).time_s
        serves = points_s is None and on_bulb is not None and on_bulb <= LONG_BEHIND_S
        bulb: dict[str, Figure] = {"bulb_s": on_bulb, "before": before.iso} if serves else {}
        yield remark(RemarkCode.HIGHER_ISO, iso=settings.iso, **bulb)
    if points_s is not None and time_s >= points_s / DIAL_SLACK**2:
        focal_mm = ref.frame.lens.focal_35mm or ref.frame.lens.focal_mm
        yield remark(RemarkCode.STARS_TRAIL, points_s=points_s, focal_mm=focal_mm)
    elif (
        before.time_s
        and time_s >= WIND_FROM_S
        and before.time_s < WIND_UNTIL_S
        and math.log2(time_s / before.time_s) >= LONGER_STOPS
    ):
        yield remark(RemarkCode.STILL_AIR, time_s=time_s, before_s=_dial_s(ref.frame))


def next_times(setups: Sequence[Setup]) -> list[tuple[tuple[int, ...], NextTime]]:
    """Return each advice once, with the numbers of its set-ups."""
    told: dict[str, list[tuple[list[int], NextTime]]] = {}
    for number, advice in enumerate((setup.next_time for setup in setups), start=1):
        if advice is None:
            continue
        # what starts from another frame is another advice: few have to be compared
        alike = told.setdefault(advice.frame, [])
        numbers = next((numbers for numbers, known in alike if known == advice), None)
        if numbers is None:
            alike.append(([number], advice))
        else:
            numbers.append(number)
    every = [(tuple(numbers), one) for alike in told.values() for numbers, one in alike]
    return sorted(every, key=lambda entry: entry[0])
