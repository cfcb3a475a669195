"""Settings for next time, set-up by set-up: the same light once more, a third of a stop under.

What belongs together shares its settings: the unfiltered frames of a set-up, and all frames of a
panorama; behind a graduated filter only the frames that had it. Each of them says how much light
it would have borne; the light that changed between it and the latest of them is taken out. The
least of these decides. Glints and small patches clip in frames that are called held, so they do
not ask for less light than those frames were given.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from auditor.advise.graduated import Graduated
from auditor.advise.limits import (
    HIGHEST_ISO,
    LONG_BEHIND_S,
    LONGEST_S,
    MARGIN_STOPS,
    NEAR_S,
    ROWS_GAP_S,
    SAME_FILTER_STOPS,
    WIDEST_F_NUMBER,
)
from auditor.clipping.limits import SMALL_LOSS
from auditor.findings.base import is_lit
from auditor.history.shots import retaken
from auditor.light.filters import drifting
from auditor.model.advice import BehindFilter, FilterVerdict, GradAdvice, NextTime
from auditor.model.apertures import nominal_f_numbers, true_f_number
from auditor.model.audit import FrameResult, Setup
from auditor.model.codes import Loss, Verdict
from auditor.model.facts import FileFacts
from auditor.model.findings import Figure
from auditor.model.grouping import Grouping
from auditor.model.history import KnownFilter
from auditor.model.remark import Remark, RemarkCode, remark

LEAST_ISO = 64.0
"""Lower speeds are mostly reached by calculation (common practice)."""


LONGER_STOPS = 0.9
"""From about twice the time on, wind and falling light have a say."""

DIAL_SLACK = 2.0 ** (1 / 6)
"""Half a step of the dial."""

STEADY_STOPS = 0.02
"""Light that changes by less a minute is steady."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shot:
    """One unfiltered frame.

    Parameters
    ----------
    stops : float
        What its settings record, on any one scale.
    level : float or None
        The light of its set-up by what is static.
    drift : float or None
        How the light changes about it, stops a minute.
    """

    frame: FrameResult
    setup: str
    at_s: float | None
    stops: float
    level: float | None
    drift: float | None

    @property
    def id(self) -> str:
        return self.frame.id

    @property
    def grave(self) -> bool:
        return self.frame.verdict.lost_highlights


@dataclass(frozen=True, slots=True, kw_only=True)
class _Borne:
    """What a frame says of the light that may be given, in the light of the latest one."""

    shot: _Shot
    most: float
    """Stops of settings that bring its bright end to saturation, or at which it was taken."""
    area: float
    """Those from which what clips in it is an area."""


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
    shots = _unfiltered(results, grouping)
    own = _own_filters(filters, known)
    bracketed = {frame for bracket in grouping.brackets for frame in bracket.frames}
    again = retaken(list(results.values())) - bracketed
    graduated = Graduated(grouping)
    told: dict[str, NextTime] = {}
    for members in _together(grouping, results):
        found = [shot for setup in members for shot in shots.get(setup, ())]
        bare = [shot for shot in found if shot.id not in graduated.behind]
        held = any(shot.frame.verdict == Verdict.HELD for shot in bare)
        grad = graduated.advice(members, [shot.id for shot in bare], held=held)
        # the times of frames behind a grad hold for the same grad once more
        same = [shot for shot in found if grad and graduated.behind.get(shot.id) == grad.stops]
        # the frames of a panorama follow each other too fast for a filter's times
        advice = _advice(same or bare or found, own if len(members) == 1 else (), grad, again)
        if advice is not None:
            told |= dict.fromkeys(members, advice)
    setups = tuple(replace(setup, next_time=told.get(setup.id)) for setup in grouping.setups)
    return replace(grouping, setups=setups)


def _together(grouping: Grouping, results: Mapping[str, FrameResult]) -> Iterator[tuple[str, ...]]:
    """Yield the ids of set-ups that share their settings: those of a panorama, else each alone."""
    home = {frame: setup.id for setup in grouping.setups for frame in setup.frames}
    taken: set[str] = set()
    for frames in _views([one.frames for one in grouping.panoramas], results):
        members = tuple(dict.fromkeys(home[frame] for frame in frames if frame in home))
        if members and taken.isdisjoint(members):
            taken.update(members)
            yield members
    yield from ((setup.id,) for setup in grouping.setups if setup.id not in taken)


def _views(
    rows: Sequence[tuple[str, ...]], results: Mapping[str, FrameResult]
) -> list[tuple[str, ...]]:
    """Join panoramas that are rows of one view."""
    views: list[tuple[str, ...]] = []
    for row in rows:
        if views and _next_row(results.get(views[-1][-1]), results.get(row[0])):
            views[-1] += row
        else:
            views.append(row)
    return views


def _next_row(last: FrameResult | None, first: FrameResult | None) -> bool:
    if last is None or first is None or last.lens != first.lens or last.camera != first.camera:
        return False
    ends = [FileFacts(captured_at=frame.captured_at).clock_s for frame in (last, first)]
    stops = _settings_stops(last)
    if ends[0] is None or ends[1] is None or stops is None or stops != _settings_stops(first):
        return False
    return 0.0 <= ends[1] - ends[0] <= ROWS_GAP_S


def _unfiltered(results: Mapping[str, FrameResult], grouping: Grouping) -> dict[str, list[_Shot]]:
    """Return the frames without neutral density of every set-up, in order."""
    filtered = {pair.long for pair in grouping.siblings}
    shots: dict[str, list[_Shot]] = {}
    for setup in grouping.setups:
        for name in setup.frames:
            frame = results.get(name)
            if frame is None or name in filtered or not is_lit(frame) or frame.exposure.flash:
                continue
            # longer than the dial: behind a filter that no pair measured, or held open by hand
            if (frame.exposure.time_s or 0.0) > LONGEST_S * DIAL_SLACK:
                continue
            stops = _settings_stops(frame)
            if stops is not None and frame.headroom_stops is not None:
                facts = FileFacts(captured_at=frame.captured_at, exposure=frame.exposure)
                shots.setdefault(setup.id, []).append(
                    _Shot(
                        frame=frame, setup=setup.id, at_s=facts.middle_s, stops=stops,
                        level=grouping.levels.get(name), drift=grouping.drifts.get(name),
                    )
                )  # fmt: skip
    return shots


def _settings_stops(frame: FrameResult) -> float | None:
    """Return ``log2(t ISO/100 / N²)``; an f-number that is absent counts as 1, an ISO as 100."""
    exposure = frame.exposure
    if not exposure.time_s or exposure.time_s <= 0:
        return None
    return _stops(exposure.time_s, exposure.f_number, exposure.iso)


def _stops(time_s: float, f_number: float | None, iso: float | None) -> float:
    aperture = true_f_number(f_number) if f_number else 1.0
    return math.log2(time_s * (iso or 100.0) / 100.0 / aperture**2)


def _change(shot: _Shot, ref: _Shot) -> float | None:
    """Return by how much more light there was at a frame than at another; None where unknown."""
    if shot is ref:
        return 0.0
    if shot.setup == ref.setup and shot.level is not None and ref.level is not None:
        return shot.level - ref.level
    if shot.at_s is None or ref.at_s is None:
        return 0.0
    apart_s = shot.at_s - ref.at_s
    rates = [rate for rate in (shot.drift, ref.drift) if rate is not None]
    if rates:
        return sum(rates) / len(rates) * apart_s / 60.0
    return 0.0 if abs(apart_s) <= NEAR_S else None


def _advice(
    shots: Sequence[_Shot],
    own: Sequence[tuple[str, float]],
    grad: GradAdvice | None,
    again: frozenset[str],
) -> NextTime | None:
    held = [shot for shot in shots if not shot.grave]
    if not shots:
        return None
    ref = (held or list(shots))[-1]
    borne = [
        _Borne(
            shot=shot,
            most=shot.stops + (shot.frame.headroom_stops or 0.0) + change,
            area=shot.stops + change + _stops_to_area(shot.frame),
        )
        for shot in shots
        if (change := _change(shot, ref)) is not None
    ]
    most, limiting, kind = _most(borne)
    why = [_limit(limiting.shot.frame, kind, len(shots), panorama=_setups(shots) > 1)]
    why += [
        remark(RemarkCode.RETAKEN, frame=shot.id, time_s=_dial_s(shot.frame))
        for shot in shots
        if shot.id in again and shot is not limiting.shot
    ]
    base = _base_iso(shots)
    chosen = _chosen(most, ref, base)
    why += _changes(ref.frame, chosen)
    drift = ref.drift or 0.0
    behind = tuple(_behind(chosen, own, drift))
    why += _remedies(chosen, own, drift)
    if own and abs(drift) >= STEADY_STOPS:
        why.append(remark(RemarkCode.DRIFT_ALLOWED, drift_stops_per_min=drift))
    return NextTime(
        time_s=chosen.time_s,
        f_number=chosen.f_number,
        iso=chosen.iso,
        frame=ref.id,
        change_stops=round(chosen.stops - ref.stops, 4),
        headroom_stops=round(most + MARGIN_STOPS - chosen.stops, 4),
        joint=tuple(shot.id for shot in shots),
        behind=behind,
        grad=grad,
        remarks=tuple(why),
    )


def _limit(frame: FrameResult, kind: str, frames: int, *, panorama: bool) -> Remark:
    """Tell which frame sets the limit, and by what."""
    own: dict[str, Figure] = {"frame": frame.id, "time_s": _dial_s(frame)}
    if kind == "headroom":
        own |= {"headroom_stops": frame.headroom_stops, "frames": frames, "panorama": panorama}
        return remark(RemarkCode.HEADROOM_LIMITS, **own)
    if kind == "glints":
        own |= {"share": frame.blown_fraction or 0.0, "patch": frame.loss == Loss.PATCH}
        return remark(RemarkCode.GLINTS_CLIP, **own)
    return remark(RemarkCode.ALL_LOST, **own, frames=frames)


def _dial_s(frame: FrameResult) -> float | None:
    return frame.exposure.nominal_time_s or frame.exposure.time_s


def _changes(frame: FrameResult, chosen: _Chosen) -> Iterator[Remark]:
    """Tell what changes against a frame's settings beside the time, and what a longer time asks."""
    before = frame.exposure
    if before.iso and chosen.iso and chosen.iso < before.iso:
        yield remark(RemarkCode.LOWER_ISO, iso=chosen.iso, before=before.iso)
    if before.iso and chosen.iso and chosen.iso > before.iso:
        yield remark(RemarkCode.HIGHER_ISO, iso=chosen.iso)
    if before.f_number and chosen.f_number and chosen.f_number < before.f_number:
        yield remark(RemarkCode.WIDER, f_number=chosen.f_number, before=before.f_number)
    if before.time_s and math.log2(chosen.time_s / before.time_s) >= LONGER_STOPS:
        yield remark(RemarkCode.STILL_AIR, time_s=chosen.time_s, before_s=_dial_s(frame))


def _setups(shots: Sequence[_Shot]) -> int:
    return len({shot.setup for shot in shots})


def _most(borne: Sequence[_Borne]) -> tuple[float, _Borne, str]:
    """Return the settings that may be given, the frame that decides, and by what.

    By its "headroom"; by "glints" (or a small patch), where nothing else clips in a frame that was
    given more than the others' headroom, or where they would grow to an area; "blown" where every
    frame lost an area.
    """
    by_loss: dict[Loss, list[_Borne]] = defaultdict(list)
    for one in borne:
        loss = one.shot.frame.loss
        if loss is None or one.shot.frame.headroom_stops:
            loss = Loss.NONE
        by_loss[Loss.ALL_CHANNELS if loss.grave else loss].append(one)
    ceiling = min((one.most for one in by_loss[Loss.ALL_CHANNELS]), default=math.inf)
    glints = [one for one in by_loss[Loss.GLINTS] if one.most < ceiling]
    least = min(by_loss[Loss.NONE], key=lambda one: one.most, default=None)
    bright = max(glints, key=lambda one: one.most, default=None)
    if least is not None and (bright is None or least.most - MARGIN_STOPS >= bright.most):
        grown = min((*by_loss[Loss.GLINTS], *by_loss[Loss.PATCH]), key=_area, default=least)
        if grown is not least and grown.area < min(least.most, ceiling) - MARGIN_STOPS:
            return grown.area, grown, "glints"
        return min(least.most, ceiling) - MARGIN_STOPS, least, "headroom"
    patch = min(by_loss[Loss.PATCH], key=lambda one: one.most, default=None)
    accepted = bright or patch
    if accepted is not None and accepted.most < ceiling:
        return accepted.most, accepted, "glints"
    darkest = min(borne, key=lambda one: one.most)
    return darkest.most - 1.0, darkest, "blown"


def _area(borne: _Borne) -> float:
    return borne.area


def _stops_to_area(frame: FrameResult) -> float:
    """Return how much more light makes what clips an area; infinite where no histogram tells."""
    rooms = [math.inf]
    for channel in frame.channels:
        told, above = channel.histogram, np.cumsum(channel.histogram.counts)
        if len(above) and channel.zero_fraction < 1.0:
            pixels = above[-1] / (1.0 - channel.zero_fraction)
            place = int(np.searchsorted(above, SMALL_LOSS * pixels))
            rooms.append(max(0.0, told.first_stop + told.step * place))
    return min(rooms)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Chosen:
    time_s: float
    f_number: float | None
    iso: float | None

    @property
    def stops(self) -> float:
        return _stops(self.time_s, self.f_number, self.iso)


def _base_iso(shots: Sequence[_Shot]) -> float | None:
    isos = [shot.frame.exposure.iso for shot in shots if shot.frame.exposure.iso]
    return min((100.0, *(iso for iso in isos if iso >= LEAST_ISO))) if isos else None


def _ways(
    f_number: float | None, iso: float | None, own_iso: float
) -> Iterator[tuple[float | None, float | None]]:
    """Yield apertures and speeds to try: as given, then wider, then a higher ISO."""
    yield f_number, iso
    for wider in _apertures(f_number):
        f_number = wider
        yield f_number, iso
    while iso and iso * 2 <= max(HIGHEST_ISO, own_iso):
        iso *= 2
        yield f_number, iso


def _apertures(f_number: float | None) -> list[float]:
    """Return the wider apertures of the dial, in thirds of a stop."""
    names = sorted((float(name) for name in nominal_f_numbers()), reverse=True)
    return [name for name in names if f_number and WIDEST_F_NUMBER <= name < f_number - 0.01]


def _chosen(most: float, ref: _Shot, base: float | None) -> _Chosen:
    """Return settings on the dial that record so much, the drift solved for their own length."""
    exposure, chosen = ref.frame.exposure, None
    least = exposure.iso if exposure.iso is None or base is None else min(exposure.iso, base)
    for f_number, iso in _ways(exposure.f_number, least, exposure.iso or 0.0):
        steady_s = 2.0 ** (most - _stops(1.0, f_number, iso))
        time_s = drifting(steady_s, ref.drift or 0.0).time_s if steady_s >= 1.0 else steady_s
        if time_s is None:
            continue
        chosen = _Chosen(time_s=_on_dial(time_s), f_number=f_number, iso=iso)
        if time_s <= LONGEST_S * DIAL_SLACK:
            return chosen
    if chosen is None:
        chosen = _Chosen(time_s=0.0, f_number=exposure.f_number, iso=exposure.iso)
    return replace(chosen, time_s=float(LONGEST_S))


def _on_dial(time_s: float) -> float:
    return float(2.0 ** (round(3.0 * math.log2(time_s)) / 3.0))


def _own_filters(
    filters: Sequence[FilterVerdict], known: Sequence[KnownFilter]
) -> list[tuple[str, float]]:
    """Return name and stops of each filter on hand, one of the history only where it is another."""
    own = [(verdict.name, verdict.stops) for verdict in filters]
    own += [
        (f"filter “{entry.name}”", entry.stops)
        for entry in known
        if all(abs(entry.stops - verdict.stops) > SAME_FILTER_STOPS for verdict in filters)
    ]
    return sorted(own, key=lambda one: one[1])


def _behind(
    chosen: _Chosen, own: Sequence[tuple[str, float]], drift: float
) -> Iterator[BehindFilter]:
    for name, stops in own:
        yield BehindFilter(filter=name, time_s=drifting(chosen.time_s * 2.0**stops, drift).time_s)


def _remedies(chosen: _Chosen, own: Sequence[tuple[str, float]], drift: float) -> Iterator[Remark]:
    """Yield, for each filter behind which the time runs away, an aperture or a filter that serves.

    More ISO is not named: a weaker filter gives the same time with less noise.
    """
    times = {one.filter: one.time_s for one in _behind(chosen, own, drift)}
    short = [(name, time_s) for name, time_s in times.items() if time_s and time_s <= LONG_BEHIND_S]
    for name, stops in own:
        time_s = times[name]
        if (name, time_s) in short:
            continue
        for f_number in _apertures(chosen.f_number):
            gain = _stops(1.0, f_number, None) - _stops(1.0, chosen.f_number, None)
            other_s = drifting(chosen.time_s * 2.0 ** (stops - gain), drift).time_s
            if other_s is not None and other_s <= LONG_BEHIND_S / 2.0:
                serves: dict[str, Figure] = {"f_number": f_number, "other_s": other_s}
                break
        else:
            serves = {"other": short[-1][0], "other_s": short[-1][1]} if short else {}
        yield remark(RemarkCode.LONG_BEHIND, filter=name, time_s=time_s, **serves)


def next_times(setups: Sequence[Setup]) -> list[tuple[tuple[int, ...], NextTime]]:
    """Return each advice once, with the numbers of its set-ups."""
    told: list[tuple[tuple[int, ...], NextTime]] = []
    for number, advice in enumerate((setup.next_time for setup in setups), start=1):
        if advice is None:
            continue
        place = next((at for at, (_, known) in enumerate(told) if known == advice), None)
        if place is None:
            told.append(((number,), advice))
        else:
            told[place] = ((*told[place][0], number), advice)
    return told
