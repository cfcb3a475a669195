"""A shoot understood: set-ups, filter siblings, brackets, graduated filters, skies, panoramas.

Each evening is worked on alone (:mod:`auditor.group.evenings`), here or elsewhere; what little
goes over from one to the next is joined here.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise
from typing import Protocol, TypeVar

from auditor.files.laid import AtHand
from auditor.group.evenings import (
    Keep,
    Pairs,
    Sight,
    evenings_of,
    goes_on,
    pair_up,
    recorded,
    see,
)
from auditor.group.limits import STEP_GAP_S
from auditor.group.pace import Jumps
from auditor.group.refusals import Refusals
from auditor.group.setups import NEAREST_TOLD, OPEN_SETUPS, only_time_parts
from auditor.group.shots import Shot, by_body, gap_s
from auditor.group.siblings import held_against_others
from auditor.group.tile_image import UNSEEN, tile_image
from auditor.model.grouping import Grouping
from auditor.model.history import KnownFilter
from auditor.model.rejected import GroupKind, Reason, Rejected, Why
from auditor.model.settings import GroupSettings
from auditor.model.shoot import ShootFrame

Answer = TypeVar("Answer")


class Hands(Protocol):
    """Whoever does the work on each evening."""

    @property
    def keep(self) -> Keep:
        """Keeps what the next step needs of an evening."""
        ...

    @property
    def least_frames(self) -> int:
        """Evenings of fewer frames are taken together: each costs a little by itself."""
        ...

    def see(self, evenings: Sequence[Sequence[Shot]]) -> list[Sight]:
        """Look at the pictures of some evenings, whose frames come without them."""
        ...

    def run(self, work: Sequence[Callable[[], Answer]]) -> list[Answer]:
        """Do some work, in any order; return what came of it in that of the work."""
        ...


@dataclass(frozen=True, slots=True)
class OwnHands:
    """Does everything at once, in memory."""

    frames: Sequence[ShootFrame]
    settings: GroupSettings
    least_frames: int = 1

    @property
    def keep(self) -> Keep:
        """What keeps it in memory."""
        return AtHand

    def see(self, evenings: Sequence[Sequence[Shot]]) -> list[Sight]:
        """Reduce each frame to a picture."""
        by_id = {frame.id: frame for frame in self.frames}
        return [
            see([replace(shot, image=tile_image(by_id[shot.id])) for shot in shots],
                self.settings, AtHand)
            for shots in evenings
        ]  # fmt: skip

    def run(self, work: Sequence[Callable[[], Answer]]) -> list[Answer]:
        """Do it here."""
        return [one() for one in work]


def group_shoot(
    frames: Sequence[ShootFrame],
    settings: GroupSettings,
    known_filters: Sequence[KnownFilter] = (),
    hands: Hands | None = None,
) -> Grouping:
    """Group and pair the measured frames of one shoot.

    Parameters
    ----------
    frames : sequence of ShootFrame
        In any order.
    settings : GroupSettings
    known_filters : sequence of KnownFilter
        Filters that recur in the history.
    hands : Hands, optional
        Who looks at the pictures; by default it is done here, with all of them in memory.

    Returns
    -------
    Grouping
    """
    hands, refusals = hands or OwnHands(frames, settings), Refusals()
    bodies = by_body((frame, UNSEEN) for frame in frames)
    cut = [evenings_of(shots, settings, hands.least_frames) for shots in bodies]
    seen = _seen(cut, settings, hands)
    for sights in seen:
        _tell_setups(sights, settings, refusals)
        _tell_panoramas(sights, refusals)
    seen.sort(key=_begin_of_body)
    begins = [shot for sights in seen for sight in sights for shot in sight.begins]
    numbers = {shot.id: n for n, shot in enumerate(sorted(begins, key=_begin), start=1)}
    paired = _paired(seen, settings, hands)
    found = iter(_records(seen, paired, numbers, settings, known=known_filters, hands=hands))
    parts: list[Grouping] = []
    for sights, pairs in zip(seen, paired, strict=True):
        told = [next(found) for _ in sights]
        views = [sight.of_views for sight in sights]
        for own in (*views, *(one.refusals for one in pairs), *(own for _, own in told)):
            refusals.take(own)
        runs = tuple(run for sight in sights for run in sight.panoramas)
        parts += [replace(_joined([one for one, _ in told]), panoramas=runs)]
    return replace(_joined(parts), rejected=refusals.records())


def _seen(
    bodies: Sequence[list[list[Shot]]], settings: GroupSettings, hands: Hands
) -> list[list[Sight]]:
    """Look at all evenings; those that only a jump of the clock parts are one."""
    known: dict[tuple[str, int], Sight] = {}
    while True:
        new = [cut for body in bodies for cut in body if _key(cut) not in known]
        known.update(zip(map(_key, new), hands.see(new), strict=True))
        told = [[known[_key(cut)] for cut in body] for body in bodies]
        doubted = [
            (cuts, sights, first, second)
            for cuts, sights in zip(bodies, told, strict=True)
            for first, second in pairwise([n for n, sight in enumerate(sights) if sight.ends])
            if only_time_parts(sights[first].ends[-1], sights[second].begins[0], settings)
        ]
        same = hands.run(
            [
                partial(goes_on, sights[first].kept, sights[second].kept, settings)
                for _, sights, first, second in doubted
            ]
        )
        if not any(same):
            return told
        for (cuts, _, first, second), one in reversed([*zip(doubted, same, strict=True)]):
            if one:
                part = slice(first, second + 1)
                cuts[part] = [[shot for cut in cuts[part] for shot in cut]]


def _key(shots: Sequence[Shot]) -> tuple[str, int]:
    return shots[0].id, len(shots)


def _tell_setups(sights: Sequence[Sight], settings: GroupSettings, refusals: Refusals) -> None:
    """Take over why frames belong to no set-up, those of the evening before among the nearest."""
    before: list[Shot] = []
    for sight in sights:
        held: dict[str, list[tuple[tuple[GroupKind, tuple[str, ...]], Rejected]]] = defaultdict(
            list
        )
        for key, one in sight.of_setups.kept.items():
            held[key[1][-1]].append((key, one))
        for number, shot in enumerate(sight.started):
            refusals.kept.update(held[shot.id])
            room = min(NEAREST_TOLD - len(held[shot.id]), OPEN_SETUPS - min(OPEN_SETUPS, number))
            for other in before[::-1][:room]:
                why = Why(Reason.TOO_LATE, gap_s(other, shot), settings.setup_gap_s)
                refusals.add(GroupKind.SETUP, (other.id, shot.id), why)
        before = [*before, *sight.latest][-OPEN_SETUPS:]


def _tell_panoramas(sights: Sequence[Sight], refusals: Refusals) -> None:
    """Take over why runs of framings ended, with the time between two evenings."""
    lit = [sight for sight in sights if sight.ends]
    for sight, later in zip(lit, [*lit, None][1:], strict=True):
        refusals.take(sight.of_panoramas)
        if later is not None:
            last, first = sight.ends[1], later.ends[0]
            why = Why(Reason.TOO_LATE, gap_s(last, first), STEP_GAP_S)
            refusals.add(GroupKind.PANORAMA, (last.id, first.id), why)
        refusals.take(sight.of_last_run)


def _paired(
    seen: Sequence[Sequence[Sight]], settings: GroupSettings, hands: Hands
) -> list[list[Pairs]]:
    """Measure all pairs; how often the light jumped is told by all evenings of a body."""
    work = []
    for sights in seen:
        jumps = Jumps(*(sum(sight.jumps[n] for sight in sights) for n in range(2)))
        work += [partial(pair_up, sight.kept, jumps, settings, hands.keep) for sight in sights]
    done = iter(hands.run(work))
    return [[next(done) for _ in sights] for sights in seen]


def _records(
    seen: Sequence[Sequence[Sight]],
    paired: Sequence[Sequence[Pairs]],
    numbers: Mapping[str, int],
    settings: GroupSettings,
    *,
    known: Sequence[KnownFilter],
    hands: Hands,
) -> list[tuple[Grouping, Refusals]]:
    """Make the records of all evenings, body by body."""
    work = []
    for sights, pairs in zip(seen, paired, strict=True):
        told = [((n, at), main, by) for n, one in enumerate(pairs) for at, main, by in one.told]
        likes = iter(held_against_others(told, known))
        for sight, own in zip(sights, pairs, strict=True):
            like = [next(likes) for _ in own.told]
            places = [numbers[shot.id] for shot in sight.begins]
            work.append(
                partial(
                    recorded, sight.kept, own.kept, like, places, known=known, settings=settings
                )
            )
    return hands.run(work)


def _begin_of_body(sights: Sequence[Sight]) -> tuple[float, str]:
    return next((_begin(one.begins[0]) for one in sights if one.begins), (float("inf"), ""))


def _begin(first: Shot) -> tuple[float, str]:
    return (float("-inf") if first.start_s is None else first.start_s), first.id


def _joined(parts: Sequence[Grouping]) -> Grouping:
    """Put findings together, set-ups in order of time."""
    setups = sorted((s for part in parts for s in part.setups), key=lambda s: int(s.id[1:]))
    return Grouping(
        setups=tuple(setups),
        siblings=tuple(pair for part in parts for pair in part.siblings),
        brackets=tuple(bracket for part in parts for bracket in part.brackets),
        grads=tuple(grad for part in parts for grad in part.grads),
        skies=tuple(sky for part in parts for sky in part.skies),
        panoramas=tuple(run for part in parts for run in part.panoramas),
        drifts={frame: drift for part in parts for frame, drift in part.drifts.items()},
        levels={frame: level for part in parts for frame, level in part.levels.items()},
    )
