"""Keepers: of each composition the short and the filtered frame to keep, each kind on its own.

Still water or moving water is the photographer's choice, so a filtered frame never stands
against a short one. Nothing is deleted and nothing is hidden: a keeper is a suggestion, with
the reasons in words and the whole order beside it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from auditor.group.grouping import Grouping
from auditor.judge.steadiness import (
    Contrast,
    Steadiness,
    compare_steadiness,
    contrast_of,
    softer_than,
)
from auditor.model.audit import FrameResult, Keeper, Setup
from auditor.model.numbers import share_text, stops_text
from auditor.model.settings import JudgeSettings
from auditor.model.shoot import ShootFrame

BLOWN_STEP, BLOWN_SLOPE = 0.5, 12.0
BLOCKED_STEP, BLOCKED_SLOPE = 0.3, 6.0
"""Harm of lost tones: a step where they pass the usual limit, and a slope by their share."""

SPARE_FREE_STOPS, SPARE_SLOPE = 0.3, 0.15
"""Light that could have been given: each stop beyond the first third."""

NOISE_SLOPE = 0.25
"""Each stop by which the middle tones stand nearer to the noise than in the best sibling."""

SOFT_FREE, SOFT_SLOPE, MOST_SOFT = 0.93, 3.0, 4.0
"""Contrast against the sharpest sibling within what it can be told by, and harm a halving."""

HOT_SLOPE = 0.1
DAMAGED = 5.0

TOLD_HARM = 0.05
"""A sibling is told to be worse by something from this much more harm on."""

SOFT_SHARE = 0.85
"""Contrast against the sharpest sibling below which a frame is called softer."""

MOVED_SHARE = 0.15

TOLD_OTHERS = 4


@dataclass(frozen=True, slots=True)
class _Against:
    """One thing that speaks against a frame: harm in about stops, and words."""

    what: str
    harm: float
    words: str


@dataclass(frozen=True, slots=True)
class _Judged:
    """One frame of a kind, with what speaks against it."""

    id: str
    against: tuple[_Against, ...]

    @property
    def harm(self) -> float:
        """All that speaks against it, in about stops."""
        return sum(one.harm for one in self.against)

    @property
    def order(self) -> float:
        """What frames are ordered by: of those as good the one taken first goes before."""
        return round(self.harm, 2)


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """What is fetched of one frame."""

    contrast: Contrast
    damaged: bool


def choose_keepers(
    frames: Sequence[ShootFrame],
    results: Mapping[str, FrameResult],
    grouping: Grouping,
    limits: JudgeSettings,
) -> tuple[Keeper, ...]:
    """Choose the frames to keep, set-up by set-up.

    Parameters
    ----------
    frames : sequence of ShootFrame
    results : mapping of frame id to FrameResult
        The frames as judged.
    grouping : Grouping
    limits : JudgeSettings
        What counts as blown, blocked and hot.

    Returns
    -------
    tuple of Keeper
        For each set-up one of the short frames and one of the filtered ones, where it has any.
    """
    by_id = {frame.id: frame for frame in frames}
    long = {pair.long: pair.short for pair in grouping.siblings if pair.best}
    chosen: list[Keeper] = []
    for setup in grouping.setups:
        members = [name for name in setup.frames if name in by_id and name in results]
        looks = {name: _look(by_id[name]) for name in members} if len(members) > 1 else {}
        for kind, names in (
            ("short", [name for name in members if name not in long]),
            ("long", [name for name in members if name in long]),
        ):
            if names:
                judged = _judge(names, results, looks, limits)
                chosen.append(_keeper(setup, kind, judged, results, _Siblings(long, looks)))
    return tuple(chosen)


@dataclass(frozen=True, slots=True, eq=False)
class _Siblings:
    """The short sibling of each filtered frame, and the looks of both."""

    shorts: Mapping[str, str]
    looks: Mapping[str, _Look]

    def softness(self, frame_id: str) -> float | None:
        """Contrast against the short sibling's."""
        frame, sibling = self.looks.get(frame_id), self.looks.get(self.shorts.get(frame_id, ""))
        if frame is None or sibling is None:
            return None
        return softer_than(frame.contrast, sibling.contrast)


def _look(frame: ShootFrame) -> _Look:
    mosaic = frame.measured.mosaic
    return _Look(contrast_of(mosaic, frame.levels), bool(mosaic.damage))


def _judge(
    names: Sequence[str],
    results: Mapping[str, FrameResult],
    looks: Mapping[str, _Look],
    limits: JudgeSettings,
) -> list[_Judged]:
    """Judge the frames of one kind, the best first; of equals the one taken first."""
    steady = compare_steadiness({name: looks[name].contrast for name in names if name in looks})
    floors = all(c.dynamic_range_stops is not None for n in names for c in results[n].channels)
    tones = {name: _tone_stops(results[name], by_floor=floors) for name in names}
    held = [name for name in names if (results[name].blown_fraction or 0.0) < limits.blown_limit]
    known = [tone for tone in (tones[name] for name in held or names) if tone is not None]
    judged = []
    for name in names:
        tone, damaged = tones[name], name in looks and looks[name].damaged
        darker = max(known) - tone if known and tone is not None else 0.0
        against = [*_lost_tones(results[name], limits), *_too_hot(results[name], limits)]
        against += _against(results[name], steady.get(name), darker, damaged=damaged)
        ordered = sorted(against, key=lambda one: -one.harm)
        judged.append(_Judged(name, tuple(ordered)))
    return sorted(judged, key=lambda one: one.order)


def _tone_stops(result: FrameResult, *, by_floor: bool) -> float | None:
    """Return how far the middle tones stand over the noise floor, in stops; the worst channel.

    Where not every frame's floor was measured, the ISO speed stands for it in all of them:
    doubling it costs a stop. The two scales cannot be compared.
    """
    iso = result.exposure.iso
    tones = []
    for channel in result.channels:
        span = channel.dynamic_range_stops if by_floor else _span_by_iso(iso)
        if span is None or channel.median_stops is None:
            return None
        tones.append(span - channel.median_stops)
    return min(tones, default=None)


def _span_by_iso(iso: float | None) -> float | None:
    return -math.log2(iso / 100.0) if iso else None


def _against(
    result: FrameResult, steady: Steadiness | None, darker: float, *, damaged: bool
) -> Iterator[_Against]:
    """Yield what speaks against a frame beside lost tones and hot pixels."""
    if damaged:
        yield _Against("damage", DAMAGED, "data damaged")
    spare = result.spare_stops or 0.0
    if spare > SPARE_FREE_STOPS:
        harm = SPARE_SLOPE * (spare - SPARE_FREE_STOPS)
        yield _Against("spare", harm, f"{stops_text(spare)} stops of light not given")
    if darker > 0.1:
        words = f"middle tones {stops_text(darker)} stops nearer to the noise"
        yield _Against("noise", NOISE_SLOPE * darker, words)
    if steady is not None:
        yield from _unsteady(steady)


def _too_hot(result: FrameResult, limits: JudgeSettings) -> Iterator[_Against]:
    hot = result.hot_pixels.per_megapixel if result.hot_pixels else 0.0
    if hot > limits.hot_limit_per_megapixel:
        harm = HOT_SLOPE * math.log2(hot / limits.hot_limit_per_megapixel)
        yield _Against("hot", harm, f"{hot:.0f} hot pixels a megapixel")


def _lost_tones(result: FrameResult, limits: JudgeSettings) -> Iterator[_Against]:
    blown, blocked = result.blown_fraction or 0.0, result.blocked_fraction or 0.0
    if blown > 0:
        step = BLOWN_STEP if blown >= limits.blown_limit else 0.0
        harm = step + BLOWN_SLOPE * min(0.4, blown)
        yield _Against("blown", harm, f"{share_text(blown)} blown")
    if blocked > 0:
        step = BLOCKED_STEP if blocked >= limits.blocked_limit else 0.0
        harm = step + BLOCKED_SLOPE * min(0.6, blocked)
        yield _Against("blocked", harm, f"{share_text(blocked)} blocked")


def _unsteady(steady: Steadiness) -> Iterator[_Against]:
    if steady.sharpness < SOFT_FREE:
        harm = min(MOST_SOFT, SOFT_SLOPE * -math.log2(max(0.05, steady.sharpness)))
        less = share_text(1.0 - steady.sharpness)
        yield _Against("soft", harm, f"{less} softer where nothing moves: the camera shook")
    if steady.moved_share > MOVED_SHARE:
        harm = 2.0 * (steady.moved_share - MOVED_SHARE)
        share = share_text(steady.moved_share)
        yield _Against("wind", harm, f"{share} of the structure blurred by itself: wind")


def _keeper(
    setup: Setup,
    kind: str,
    judged: Sequence[_Judged],
    results: Mapping[str, FrameResult],
    siblings: _Siblings,
) -> Keeper:
    best = judged[0]
    why = [_first_reason(kind, len(judged)), *_held_reasons(results[best.id])]
    why.extend(_steady_reasons(kind, judged, siblings))
    why.extend(f"{other.id}: {_in_words(other, best)}." for other in judged[1 : 1 + TOLD_OTHERS])
    return Keeper(
        setup=setup.id,
        frame=best.id,
        kind=kind,
        why=tuple(why),
        rank=tuple(one.id for one in judged),
    )


def _first_reason(kind: str, count: int) -> str:
    name = "short" if kind == "short" else "filtered"
    if count == 1:
        return f"The only {name} frame of this composition."
    return f"Best of {count} {name} frames of this composition."


def _held_reasons(result: FrameResult) -> Iterator[str]:
    blown, blocked = result.blown_fraction, result.blocked_fraction
    if blown is not None:
        dark, begin = "blocked share not measured", "Bright end held"
        if blocked is not None:
            dark, begin = f"{share_text(blocked)} blocked", "Both ends held"
        if result.verdict != "held":
            begin = "Not all tones held"
        yield f"{begin}: {share_text(blown)} blown, {dark}."
    if result.spare_stops is not None and result.spare_stops >= 0.05:
        yield f"Light given to within {stops_text(result.spare_stops)} stops of clipping."


def _steady_reasons(kind: str, judged: Sequence[_Judged], siblings: _Siblings) -> Iterator[str]:
    softness = siblings.softness(judged[0].id) if kind == "long" else None
    if softness is None:
        return
    if softness < SOFT_SHARE:
        yield (
            f"{share_text(1.0 - softness)} softer than its short sibling where both hold still: "
            "the camera shook during the exposure."
        )
    else:
        yield "As sharp as its short sibling where both hold still."


def _in_words(judged: _Judged, best: _Judged) -> str:
    """Say in what a frame is worse than the best."""
    harms = {one.what: one.harm for one in best.against}
    worse = [one for one in judged.against if one.harm - harms.get(one.what, 0.0) >= TOLD_HARM]
    if worse:
        return "; ".join(one.words for one in worse[:3])
    return "as good, taken later" if judged.order == best.order else "hardly worse"
