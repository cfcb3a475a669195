"""Settings that can be dialled for so much light, and the times behind one's own filters."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from auditor.advise.limits import (
    HIGHEST_ISO,
    LEAST_ISO,
    LONG_BEHIND_S,
    LONGEST_S,
    SAME_FILTER_STOPS,
    STARLIGHT_STOPS,
    TRAIL_MM_S,
    WIDEST_F_NUMBER,
)
from auditor.advise.most_light import PlainShot, settings_stops
from auditor.light.filters import drifting
from auditor.light.nominal import DIAL_SLACK
from auditor.model.advice import BehindFilter, FilterVerdict
from auditor.model.apertures import nominal_f_numbers
from auditor.model.audit import FrameResult
from auditor.model.findings import Figure
from auditor.model.history import KnownFilter
from auditor.model.remark import Remark, RemarkCode, remark


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialled:
    """Settings on the dial.

    Parameters
    ----------
    stops : float
        What they record, by the ISO that the sensor has in truth.
    """

    time_s: float
    f_number: float | None
    iso: float | None
    stops: float


def base_iso(shots: Sequence[PlainShot]) -> float | None:
    """Return the lowest ISO of the shots that is no calculated one, 100 at the most.

    None where the metadata hold no ISO and the decoder told one: a body that records none may have
    no other.
    """
    for told in (told for shot in shots for told in shot.frame.remarks):
        if told.code is RemarkCode.FROM_DECODER and "ISO" in told.names("facts"):
            return None
    isos = [shot.frame.exposure.iso for shot in shots if shot.frame.exposure.iso]
    return min((100.0, *(iso for iso in isos if iso >= LEAST_ISO))) if isos else None


def trail_s(frame: FrameResult) -> float | None:
    """Return how long stars stay points: 500 over the focal length; None where none are seen."""
    ev100, lens = frame.exposure.ev100, frame.lens
    focal_mm = lens.focal_35mm or lens.focal_mm
    if ev100 is None or ev100 > -STARLIGHT_STOPS or not focal_mm:
        return None
    return TRAIL_MM_S / focal_mm


def longest_s(frame: FrameResult) -> float:
    """Return the longest time without a filter: the dial's, by starlight what draws no trails.

    A photographer who let the stars draw trails meant it.
    """
    points_s = trail_s(frame)
    if points_s is None:
        return LONGEST_S
    return min(LONGEST_S, max(points_s, frame.exposure.time_s or 0.0))


def dial(
    most: float, ref: PlainShot, base: float | None, true_isos: Mapping[float, float]
) -> Dialled:
    """Return settings that record so much, the drift solved for their own length.

    The aperture of ``ref`` at the base ISO; where the time runs away the aperture opens, then the
    ISO rises.

    Parameters
    ----------
    most : float
        Stops of settings.
    true_isos : mapping of float to float
        The ISO that the sensor has in truth, where the one named is another.
    """
    exposure, longest, found = ref.frame.exposure, longest_s(ref.frame), None
    most_thirds = math.floor(3.0 * math.log2(longest) + 1e-9)
    least = exposure.iso if exposure.iso is None or base is None else min(exposure.iso, base)
    # as given, then wider, then at a higher ISO
    f_numbers = [exposure.f_number, *wider_apertures(exposure.f_number)]
    ways = [(f_number, least) for f_number in f_numbers]
    while least and least * 2 <= max(HIGHEST_ISO, exposure.iso or 0.0):
        least *= 2
        ways.append((f_numbers[-1], least))
    for f_number, iso in ways:
        true_iso = None if iso is None else true_isos.get(iso, iso)
        a_second = settings_stops(1.0, f_number, true_iso)
        steady_s = 2.0 ** (most - a_second)
        time_s = drifting(steady_s, ref.drift or 0.0).time_s if steady_s >= 1.0 else steady_s
        # the last way is taken in any case, for as long as the dial goes
        within = time_s is not None and time_s <= longest * DIAL_SLACK
        thirds = round(3.0 * math.log2(time_s)) if within and time_s else most_thirds
        dialled_s = 2.0 ** (min(thirds, most_thirds) / 3.0)
        found = Dialled(
            time_s=dialled_s, f_number=f_number, iso=iso, stops=a_second + math.log2(dialled_s)
        )
        if within:
            break
    assert found is not None, "there is always the way that was taken"
    return found


def wider_apertures(f_number: float | None) -> list[float]:
    """Return the wider apertures of the dial that are advised, in thirds of a stop."""
    names = sorted((float(name) for name in nominal_f_numbers()), reverse=True)
    return [name for name in names if f_number and WIDEST_F_NUMBER <= name < f_number - 0.01]


def own_filters(
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


def behind(
    settings: Dialled, own: Sequence[tuple[str, float]], drift: float
) -> tuple[BehindFilter, ...]:
    """Return the time behind each filter, the drift solved for its own length."""
    return tuple(
        BehindFilter(filter=name, time_s=drifting(settings.time_s * 2.0**stops, drift).time_s)
        for name, stops in own
    )


def remedies(settings: Dialled, own: Sequence[tuple[str, float]], drift: float) -> Iterator[Remark]:
    """Yield, for each filter behind which the time runs away, an aperture or a filter that serves.

    The aperture opens by a stop at least, else the wait is much the same. More ISO is not named: a
    weaker filter gives the same time with less noise.
    """
    times = {one.filter: one.time_s for one in behind(settings, own, drift)}
    short = [(name, time_s) for name, time_s in times.items() if time_s and time_s <= LONG_BEHIND_S]
    for name, stops in own:
        if (name, times[name]) in short:
            continue
        serves: dict[str, Figure] = (
            {"other": short[-1][0], "other_s": short[-1][1]} if short else {}
        )
        for f_number in wider_apertures(settings.f_number):
            gain = settings_stops(1.0, f_number, None) - settings_stops(
                1.0, settings.f_number, None
            )
            opened = replace(settings, time_s=settings.time_s * 2.0**-gain)
            other_s = behind(opened, [(name, stops)], drift)[0].time_s
            if gain >= 0.99 and other_s is not None and other_s <= LONG_BEHIND_S:
                serves = {"f_number": f_number, "other_s": other_s}
                break
        yield remark(RemarkCode.LONG_BEHIND, filter=name, time_s=times[name], **serves)
