"""Keepers: of each composition the frame to keep of each kind, each kind on its own.

Still water or moving water is the photographer's choice, so a filtered frame never stands
against a short one, nor against one behind another filter. Nothing is deleted and nothing is
hidden: a keeper is a suggestion, with the reasons and the whole order beside it.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import chain

from auditor.advise.keeper_kinds import (
    Against,
    Choice,
    Judged,
    KeeperKind,
    Penalty,
    keeper_kinds,
)
from auditor.advise.limits import (
    BLOCKED_SLOPE,
    BLOCKED_STEP,
    BLOWN_SLOPE,
    BLOWN_STEP,
    DAMAGED,
    HOT_SLOPE,
    MOVED_SHARE,
    NOISE_SLOPE,
    SOFT_FREE,
    SOFT_SLOPE,
    SPARE_FREE_STOPS,
    SPARE_SLOPE,
)
from auditor.detail.steadiness import (
    Contrast,
    Steadiness,
    compare_steadiness,
    contrast_of,
    focus_ends,
    moved_places,
    softer_than,
)
from auditor.model.audit import Bracket, FrameResult, MovedPlaces
from auditor.model.grouping import Grouping
from auditor.model.settings import JudgeSettings
from auditor.model.shoot import ShootFrame, Spread, all_here, on_frames


@dataclass(frozen=True, slots=True, eq=False)
class FrameContrast:
    """What is fetched of one frame."""

    contrast: Contrast
    damaged: bool
    orientation: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class KindLook:
    """What the tiles of one kind of frames of a set-up tell; nothing where it has one frame.

    Parameters
    ----------
    steady : mapping of frame id to Steadiness
        Without the tiles.
    softer : mapping of frame id to (float or None)
        Contrast of each filtered frame against its short sibling.
    """

    setup: str
    kind: KeeperKind
    damaged: frozenset[str] = frozenset()
    steady: Mapping[str, Steadiness] = field(default_factory=dict)
    focus: tuple[str, str] | None = None
    softer: Mapping[str, float | None] = field(default_factory=dict)
    moved: tuple[MovedPlaces, ...] = ()


TOGETHER = 16
"""Set-ups that are looked at in one piece of work: some 0.2 s."""


def look_at_kinds(
    frames: Sequence[ShootFrame],
    results: Mapping[str, FrameResult],
    grouping: Grouping,
    spread: Spread = all_here,
) -> list[KindLook]:
    """Look at the tiles of all frames that stand against each other for keeping.

    Parameters
    ----------
    spread : Spread
        Does some work, here or elsewhere.

    Returns
    -------
    list of KindLook
        In order of the set-ups.
    """
    by_id = {frame.id: frame for frame in frames}
    pairs = {pair.long: pair for pair in grouping.siblings if pair.best}
    exposures = {name: result.exposure for name, result in results.items()}
    looks: list[list[KindLook]] = []
    parts: list[tuple[int, list[KeeperKind], list[ShootFrame]]] = []
    for setup in grouping.setups:
        members = [name for name in setup.frames if name in by_id and name in results]
        kinds = keeper_kinds(members, exposures, pairs)
        looks.append([KindLook(setup=setup.id, kind=kind) for kind in kinds])
        if len(members) > 1:
            parts.append((len(looks) - 1, kinds, [by_id[name] for name in members]))
    work = []
    for start in range(0, len(parts), TOGETHER):
        some = parts[start : start + TOGETHER]
        own = [frame for _, _, members in some for frame in members]
        shorts = {one.id: pairs[one.id].short for one in own if one.id in pairs}
        setups = [(looks[place][0].setup, kinds) for place, kinds, _ in some]
        work.append(on_frames(partial(look_at_setups, setups, shorts), own))
    looked = spread(work)
    for (place, _, _), found in zip(parts, chain.from_iterable(looked), strict=True):
        looks[place] = found
    return [*chain.from_iterable(looks)]


def look_at_setups(
    setups: Sequence[tuple[str, Sequence[KeeperKind]]],
    shorts: Mapping[str, str],
    frames: Sequence[ShootFrame],
) -> list[list[KindLook]]:
    """Look at the kinds of some set-ups.

    Parameters
    ----------
    shorts : mapping of frame id to str
        The short sibling of each filtered frame.
    frames : sequence of ShootFrame
        All that the kinds name.
    """
    by_id = {frame.id: frame for frame in frames}
    looked = []
    for setup, kinds in setups:
        looks: dict[str, FrameContrast] = {}
        for name in (name for kind in kinds for name in kind.frames):
            settled = by_id[name].settled()
            damaged = bool(settled.mosaic.damage)
            looks[name] = FrameContrast(contrast_of(settled), damaged, settled.orientation)
        looked.append([_look(setup, kind, looks, shorts) for kind in kinds])
    return looked


def _look(
    setup: str, kind: KeeperKind, looks: Mapping[str, FrameContrast], shorts: Mapping[str, str]
) -> KindLook:
    found = {name: looks[name].contrast for name in kind.frames}
    turns = {looks[name].orientation for name in found}
    focus = focus_ends(found, turns.pop()) if len(turns) == 1 else None
    # another focus is no shake: the frame is sharp elsewhere
    steady = compare_steadiness(found) if focus is None else {}
    moved = []
    for name, one in steady.items():
        if places := moved_places(one, looks[name].orientation):
            moved.append(MovedPlaces(frame=name, share=round(one.moved_share, 4), places=places))
    return KindLook(
        setup=setup,
        kind=kind,
        damaged=frozenset(name for name in kind.frames if looks[name].damaged),
        steady={name: replace(one, moved=one.moved[:0]) for name, one in steady.items()},
        focus=focus,
        softer={
            name: softer_than(found[name], looks[shorts[name]].contrast)
            for name in kind.frames
            if shorts.get(name) in looks
        },
        moved=tuple(moved),
    )


def choose_keepers(
    frames: Sequence[ShootFrame],
    results: Mapping[str, FrameResult],
    grouping: Grouping,
    limits: JudgeSettings,
    looks: Sequence[KindLook] | None = None,
) -> tuple[Choice, ...]:
    """Choose the frames to keep, set-up by set-up.

    Parameters
    ----------
    frames : sequence of ShootFrame
    results : mapping of frame id to FrameResult
        The frames as judged.
    grouping : Grouping
    limits : JudgeSettings
        What counts as blown, blocked and hot.
    looks : sequence of KindLook, optional
        What their tiles tell, where they were looked at before.

    Returns
    -------
    tuple of Choice
        For each set-up one of the short frames and one of those behind each filter, where it
        has any.
    """
    brackets: dict[str, list[Bracket]] = defaultdict(list)
    for bracket in grouping.brackets:
        brackets[bracket.setup].append(bracket)
    if looks is None:
        looks = look_at_kinds(frames, results, grouping)
    return tuple(_choice(look, results, limits, brackets[look.setup]) for look in looks)


def _choice(
    look: KindLook,
    results: Mapping[str, FrameResult],
    limits: JudgeSettings,
    brackets: Sequence[Bracket],
) -> Choice:
    """Choose from the frames of one kind."""
    kind = look.kind
    judged = _judge(kind.frames, results, look, limits)
    areas = {name: results[name].largest_blown_area for name in kind.frames}
    return Choice(
        setup=look.setup,
        kind=kind,
        judged=judged,
        results=results,
        brackets=brackets,
        patches={n: p.share for n, p in areas.items() if p and p.share >= limits.patch_limit},
        blown=frozenset(n for n in kind.frames if results[n].verdict.lost_highlights),
        focus=look.focus,
        softer=look.softer.get(judged[0].id),
        moved=look.moved,
    )


def with_moved(grouping: Grouping, choices: Sequence[Choice]) -> Grouping:
    """Put to every set-up the frames in which something moved by itself."""
    moved: dict[str, list[MovedPlaces]] = defaultdict(list)
    for choice in choices:
        moved[choice.setup] += choice.moved
    setups = tuple(
        replace(setup, moved=tuple(moved[setup.id])) if moved[setup.id] else setup
        for setup in grouping.setups
    )
    return replace(grouping, setups=setups)


def _judge(
    names: Sequence[str],
    results: Mapping[str, FrameResult],
    look: KindLook,
    limits: JudgeSettings,
) -> list[Judged]:
    """Judge the frames of one kind, the best first; of equals the one taken first."""
    floors = all(c.dynamic_range_stops is not None for n in names for c in results[n].channels)
    tones = {name: _tone_stops(results[name], by_floor=floors) for name in names}
    held = [name for name in names if not results[name].verdict.lost_highlights]
    # where every frame is blown, being the brightest of them is no merit
    known = [tone for tone in map(tones.get, held) if tone is not None]
    judged = []
    for name in names:
        tone, damaged = tones[name], name in look.damaged
        darker = max(known) - tone if known and tone is not None else 0.0
        against = _against(results[name], limits, look.steady.get(name), darker, damaged=damaged)
        ordered = sorted(against, key=lambda one: -one.penalty)
        judged.append(Judged(name, tuple(ordered)))
    return sorted(judged, key=lambda one: one.order)


def _tone_stops(result: FrameResult, *, by_floor: bool) -> float | None:
    """Return how far the middle tones stand over the noise floor, in stops; the worst channel.

    Where not every frame's floor was measured, the ISO speed stands for it in all of them:
    doubling it costs a stop. The two scales cannot be compared.
    """
    iso = result.exposure.iso
    by_iso = -math.log2(iso / 100.0) if iso else None
    tones = []
    for channel in result.channels:
        span = channel.dynamic_range_stops if by_floor else by_iso
        if span is None or channel.median_stops is None:
            return None
        tones.append(span - channel.median_stops)
    return min(tones, default=None)


def _against(
    result: FrameResult,
    limits: JudgeSettings,
    steady: Steadiness | None,
    darker: float,
    *,
    damaged: bool,
) -> Iterator[Penalty]:
    """Yield what speaks against a frame; ``darker`` than its siblings in stops."""
    blown, blocked = result.blown_fraction or 0.0, result.blocked_fraction or 0.0
    if blown > 0:
        step = BLOWN_STEP if result.verdict.lost_highlights else 0.0
        yield Penalty(Against.BLOWN, step + BLOWN_SLOPE * min(0.4, blown), blown)
    if blocked > 0:
        step = BLOCKED_STEP if blocked >= limits.blocked_limit else 0.0
        yield Penalty(Against.BLOCKED, step + BLOCKED_SLOPE * min(0.6, blocked), blocked)
    spare = result.headroom_stops or 0.0
    if spare > SPARE_FREE_STOPS:
        yield Penalty(Against.HEADROOM, SPARE_SLOPE * (spare - SPARE_FREE_STOPS), spare)
    if darker > 0.1:
        yield Penalty(Against.NOISE, NOISE_SLOPE * darker, darker)
    # whatever its exposure
    if damaged:
        yield Penalty(Against.DAMAGE, DAMAGED)
    hot = result.hot_pixels.per_megapixel if result.hot_pixels else 0.0
    if hot > limits.hot_limit_per_megapixel:
        penalty = HOT_SLOPE * math.log2(hot / limits.hot_limit_per_megapixel)
        yield Penalty(Against.HOT, penalty, hot)
    if steady is not None and steady.sharpness < SOFT_FREE:
        penalty = min(4.0, SOFT_SLOPE * -math.log2(max(0.05, steady.sharpness)))
        yield Penalty(Against.SOFT, penalty, 1.0 - steady.sharpness)
    if steady is not None and steady.moved_share > MOVED_SHARE:
        penalty = 2.0 * (steady.moved_share - MOVED_SHARE)
        yield Penalty(Against.WIND, penalty, steady.moved_share)
