"""Which frames of a composition stand against each other for keeping.

Still water or moving water is the photographer's choice: short frames stand against short
ones, and filtered ones against those behind the same filter, unless two of them were meant to
show the water otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from auditor.light.filters import filter_name
from auditor.model.audit import SiblingPair
from auditor.model.facts import ExposureFacts
from auditor.model.numbers import time_text

SAME_FILTER_STOPS = 0.5
"""Measured filter stops that lie nearer are of one filter."""

OTHER_TIME_STOPS = 2.0
SAME_PLACEMENT_STOPS = 1.0
"""Two frames placed alike whose times differ by this many stops show the water otherwise; where
the placement differs as well, one of the times was a slip."""


@dataclass(frozen=True, slots=True)
class KeeperKind:
    """Frames that stand against each other.

    Parameters
    ----------
    kind : str
        "short" or "long", as a keeper bears it.
    called, behind : str
        "short" or "filtered", and what else tells them apart: " behind the 6-stop filter".
    """

    kind: str
    called: str
    frames: tuple[str, ...]
    behind: str = ""


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
    kinds = [KeeperKind("short", "short", short)] if short else []
    groups = _by_filter([name for name in members if name in pairs], exposures, pairs)
    named = [filter_name(pairs[group[0]]) for group in groups]
    for name, group in zip(named, groups, strict=True):
        behind = "" if len(groups) == 1 else f" behind the {name}"
        if named.count(name) > 1:
            behind += f" near {_dial(exposures[group[0]])}"
        kinds.append(KeeperKind("long", "filtered", tuple(group), behind))
    return kinds


def _by_filter(
    names: Sequence[str],
    exposures: Mapping[str, ExposureFacts],
    pairs: Mapping[str, SiblingPair],
) -> list[list[str]]:
    """Put each frame to the first group whose first frame it stands against."""
    groups: list[list[str]] = []
    for name in names:
        for group in groups:
            first = group[0]
            other_water = _other_water(exposures[name], exposures[first])
            if _same_filter(pairs[name], pairs[first]) and not (
                other_water and _placed_alike(pairs[name], pairs[first])
            ):
                group.append(name)
                break
        else:
            groups.append([name])
    return groups


def _same_filter(one: SiblingPair, other: SiblingPair) -> bool:
    return abs(one.filter_stops - other.filter_stops) <= SAME_FILTER_STOPS


def _placed_alike(one: SiblingPair, other: SiblingPair) -> bool:
    apart = one.placement_difference_stops - other.placement_difference_stops
    return abs(apart) < SAME_PLACEMENT_STOPS


def _other_water(one: ExposureFacts, other: ExposureFacts) -> bool:
    if not one.time_s or not other.time_s:
        return False
    return abs(math.log2(one.time_s / other.time_s)) >= OTHER_TIME_STOPS


def _dial(exposure: ExposureFacts) -> str:
    return time_text(exposure.nominal_time_s or exposure.time_s)
