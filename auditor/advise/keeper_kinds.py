"""Which frames of a composition stand against each other for keeping.

Still water or moving water is the photographer's choice: short frames stand against short
ones, and filtered ones against those behind the same filter, unless two of them were meant to
show the water otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from auditor.advise.limits import (
    OTHER_TIME_STOPS,
    SAME_FILTER_STOPS,
    SAME_PLACEMENT_STOPS,
    WORSE_BY,
)
from auditor.light.filters import filter_name
from auditor.model.audit import Bracket, FrameResult, MovedPlaces, SiblingPair
from auditor.model.codes import KeeperLength
from auditor.model.facts import ExposureFacts


@dataclass(frozen=True, slots=True)
class KeeperKind:
    """Frames that stand against each other.

    Parameters
    ----------
    kind : KeeperLength
        "short" or "long", as a keeper bears it.
    filter : str
        The name of their filter, where several were used; else empty.
    near_s : float or None
        The time of the first of them, where it tells them from others behind the same filter.
    """

    kind: KeeperLength
    frames: tuple[str, ...]
    filter: str = ""
    near_s: float | None = None


def keeper_kinds(
    members: Sequence[str],
    exposures: Mapping[str, ExposureFacts],
    pairs: Mapping[str, SiblingPair],
) -> list[KeeperKind]:
    """Sort the frames of one set-up: the short ones, then those behind each filter.

    Parameters
    ----------
    members : sequence of str
        Frames of the set-up in order of time.
    pairs : mapping of frame id to SiblingPair
        The filtered frames, each with its best short sibling.
    """
    short = tuple(name for name in members if name not in pairs)
    kinds = [KeeperKind(KeeperLength.SHORT, short)] if short else []
    # behind a filter, each frame joins the first group whose first frame it stands against
    groups: list[list[str]] = []
    for name in (name for name in members if name in pairs):
        for group in groups:
            pair, leader = pairs[name], pairs[group[0]]
            placed = abs(pair.placement_difference_stops - leader.placement_difference_stops)
            times = exposures[name].time_s, exposures[group[0]].time_s
            other_water = (
                placed < SAME_PLACEMENT_STOPS
                and times[0]
                and times[1]
                and abs(math.log2(times[0] / times[1])) >= OTHER_TIME_STOPS
            )
            apart = abs(pair.filter_stops - leader.filter_stops)
            if apart <= SAME_FILTER_STOPS and not other_water:
                group.append(name)
                break
        else:
            groups.append([name])
    named = [filter_name(pairs[group[0]]) for group in groups]
    for name, group in zip(named, groups, strict=True):
        first = exposures[group[0]]
        near_s = first.nominal_time_s or first.time_s if named.count(name) > 1 else None
        kinds.append(
            KeeperKind(KeeperLength.LONG, tuple(group), name if len(groups) > 1 else "", near_s)
        )
    return kinds


class Against(StrEnum):
    """What may speak against a frame; the figure of its penalty stands beside each."""

    DAMAGE = "damage"
    HEADROOM = "headroom"
    """Stops that it could have taken more."""
    NOISE = "noise"
    """Stops by which its middle tones stand nearer to the noise."""
    HOT = "hot pixels"
    """Per megapixel."""
    BLOWN = "blown"
    """Share of the frame."""
    BLOCKED = "blocked"
    """Share of the frame."""
    SOFT = "soft"
    """Share by which it is softer."""
    WIND = "wind"
    """Share of the structure that moved."""


@dataclass(frozen=True, slots=True)
class Penalty:
    """One thing that speaks against a frame: its penalty in about stops, and its figure."""

    what: Against
    penalty: float
    value: float = 0.0


@dataclass(frozen=True, slots=True)
class Judged:
    """One frame of a kind, with what speaks against it."""

    id: str
    against: tuple[Penalty, ...]

    @property
    def penalty(self) -> float:
        """All that speaks against it, in about stops."""
        return sum(one.penalty for one in self.against)

    @property
    def order(self) -> float:
        """What frames are ordered by: of those as good the one taken first goes before."""
        return round(self.penalty, 2)

    def worse_than(self, best: Judged) -> tuple[Penalty, ...]:
        """Return in what a frame is worse than the best, the gravest first."""
        of_best = {one.what: one.penalty for one in best.against}
        told = (one for one in self.against if one.penalty - of_best.get(one.what, 0) >= WORSE_BY)
        return tuple(told)[:3]


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One kind of frames of a set-up in their order, and what the reasons are made from.

    Parameters
    ----------
    judged : sequence of Judged
        The best first.
    brackets : sequence of Bracket
        Those of the set-up.
    patches : mapping of frame id to float
        The largest blown patch of each frame that lost one.
    blown : frozenset of str
        Frames of which more than points is blown.
    focus : (frame id, frame id) or None
        The frames sharpest in front and at the back, where focus was moved between them.
    softer : float or None
        Contrast of the best frame against its short sibling where both are static; None without
        one.
    moved : sequence of MovedPlaces
        Frames in which something moved by itself.
    """

    setup: str
    kind: KeeperKind
    judged: Sequence[Judged]
    results: Mapping[str, FrameResult]
    brackets: Sequence[Bracket]
    patches: Mapping[str, float]
    blown: frozenset[str]
    focus: tuple[str, str] | None
    softer: float | None
    moved: Sequence[MovedPlaces] = ()

    @property
    def best(self) -> Judged:
        """The frame to keep."""
        return self.judged[0]
