"""How much light a set-up bears, by its unfiltered frames: by their headroom, or by what clips.

Each frame says how much light it would have borne; the light that changed between it and the
frame that the advice starts from is taken out. The least of these decides. Glints and small
patches clip in frames that are called held, so they do not ask for less light than those frames
were given; and a frame that was given more than another's headroom allows, and still has some,
outweighs it: what the other says is a wave or a spark that came and went.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from auditor.advise.limits import LONGEST_S, MARGIN_STOPS, NEAR_S
from auditor.clipping.limits import SMALL_LOSS
from auditor.findings.base import is_lit
from auditor.light.exposure import ev100
from auditor.light.nominal import DIAL_SLACK
from auditor.model.apertures import true_f_number
from auditor.model.audit import FrameResult
from auditor.model.codes import Loss
from auditor.model.facts import FileFacts
from auditor.model.grouping import Grouping
from auditor.model.remark import RemarkCode


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainShot:
    """One frame without neutral density.

    Parameters
    ----------
    stops : float
        What its settings record, on the scale of :func:`settings_stops`.
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
        """The frame's id."""
        return self.frame.id

    @property
    def grave(self) -> bool:
        """Whether it lost an area."""
        return self.frame.verdict.lost_highlights


@dataclass(frozen=True, slots=True, kw_only=True)
class MostLight:
    """The light that a set-up bears.

    Parameters
    ----------
    stops : float
        Of settings, on the scale of :func:`settings_stops`, in the light that was asked for.
    shot : PlainShot
        The frame that decides.
    limit : RemarkCode
        By what: its headroom, glints that would grow to an area, or an area lost in every frame.
    """

    stops: float
    shot: PlainShot
    limit: RemarkCode


@dataclass(frozen=True, slots=True, kw_only=True)
class _Borne:
    """What one frame says, in stops of settings in the light that was asked for."""

    shot: PlainShot
    given: float
    most: float
    """Those that bring its bright end to saturation."""
    area: float
    """Those from which what clips in it is an area."""


def settings_stops(time_s: float, f_number: float | None, iso: float | None) -> float:
    """Return ``log2(t ISO/100 / N²)``; an f-number that is absent counts as 1, an ISO as 100."""
    return -ev100(time_s, true_f_number(f_number) if f_number else 1.0, iso or 100.0)


def frame_stops(frame: FrameResult) -> float | None:
    """Return the same of a frame's true settings; None without a time."""
    exposure = frame.exposure
    if not exposure.time_s or exposure.time_s <= 0:
        return None
    return settings_stops(exposure.time_s, exposure.f_number, exposure.true_iso)


def plain_shots(
    results: Mapping[str, FrameResult], grouping: Grouping
) -> dict[str, list[PlainShot]]:
    """Return the frames without neutral density of every set-up, in order."""
    filtered = {pair.long for pair in grouping.siblings}
    shots: dict[str, list[PlainShot]] = {}
    for setup in grouping.setups:
        for name in setup.frames:
            frame = results.get(name)
            if frame is None or name in filtered or not is_lit(frame) or frame.exposure.flash:
                continue
            # longer than the dial: behind a filter that no pair measured, or held open by hand
            if (frame.exposure.time_s or 0.0) > LONGEST_S * DIAL_SLACK:
                continue
            stops = frame_stops(frame)
            if stops is not None and frame.headroom_stops is not None:
                facts = FileFacts(captured_at=frame.captured_at, exposure=frame.exposure)
                shots.setdefault(setup.id, []).append(
                    PlainShot(
                        frame=frame, setup=setup.id, at_s=facts.middle_s, stops=stops,
                        level=grouping.levels.get(name), drift=grouping.drifts.get(name),
                    )
                )  # fmt: skip
    return shots


def most_light(shots: Sequence[PlainShot], ref: PlainShot) -> MostLight:
    """Return how much light may be given where ``ref`` was taken.

    Parameters
    ----------
    shots : sequence of PlainShot
        What shares its settings; of several set-ups the one that bears least decides.
    ref : PlainShot
        One of them.
    """
    by_setup: dict[str, list[_Borne]] = defaultdict(list)
    for shot in shots:
        change = _light_change(shot, ref)
        if change is None:
            continue
        # how much more light makes what clips an area; infinite where no histogram tells
        to_area = math.inf
        for channel in shot.frame.channels:
            told, above = channel.histogram, np.cumsum(channel.histogram.counts)
            if len(above) and channel.zero_fraction < 1.0:
                pixels = above[-1] / (1.0 - channel.zero_fraction)
                place = int(np.searchsorted(above, SMALL_LOSS * pixels))
                to_area = min(to_area, max(0.0, told.first_stop + told.step * place))
        by_setup[shot.setup].append(
            _Borne(
                shot=shot,
                given=shot.stops + change,
                most=shot.stops + (shot.frame.headroom_stops or 0.0) + change,
                area=shot.stops + change + to_area,
            )
        )
    return min((_of_setup(borne) for borne in by_setup.values()), key=lambda one: one.stops)


def _light_change(shot: PlainShot, ref: PlainShot) -> float | None:
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


def _of_setup(borne: Sequence[_Borne]) -> MostLight:
    """Return what one set-up bears.

    By headroom; by glints (or a small patch), where nothing else clips in a frame that was given
    more than the others' headroom, or where they would grow to an area; else a stop less than the
    least of the areas lost.
    """
    by_loss: dict[Loss, list[_Borne]] = defaultdict(list)
    for one in borne:
        loss = one.shot.frame.loss
        if loss is None or one.shot.frame.headroom_stops:
            loss = Loss.NONE
        by_loss[Loss.ALL_CHANNELS if loss.grave else loss].append(one)
    ceiling = min((one.most for one in by_loss[Loss.ALL_CHANNELS]), default=math.inf)
    brightest = max((one.given for one in by_loss[Loss.NONE]), default=-math.inf)
    glints = [one for one in by_loss[Loss.GLINTS] if one.most < ceiling]
    headroom = [one for one in by_loss[Loss.NONE] if one.most >= brightest]
    least = min(headroom, key=lambda one: one.most, default=None)
    bright = max(glints, key=lambda one: one.most, default=None)
    if least is not None and (bright is None or least.most - MARGIN_STOPS >= bright.most):
        small = (*by_loss[Loss.GLINTS], *by_loss[Loss.PATCH])
        grown = min(small, key=lambda one: one.area, default=least)
        if grown is not least and grown.area < min(least.most, ceiling) - MARGIN_STOPS:
            return MostLight(stops=grown.area, shot=grown.shot, limit=RemarkCode.GLINTS_CLIP)
        stops = min(least.most, ceiling) - MARGIN_STOPS
        return MostLight(stops=stops, shot=least.shot, limit=RemarkCode.HEADROOM_LIMITS)
    patch = min(by_loss[Loss.PATCH], key=lambda one: one.most, default=None)
    accepted = bright or patch
    if accepted is not None and accepted.most < ceiling:
        return MostLight(stops=accepted.most, shot=accepted.shot, limit=RemarkCode.GLINTS_CLIP)
    darkest = min(borne, key=lambda one: one.most)
    return MostLight(stops=darkest.most - 1.0, shot=darkest.shot, limit=RemarkCode.ALL_LOST)
