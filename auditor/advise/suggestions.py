"""The audit's own choice as a mark for each frame, with the reason: for pages to offer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

from auditor.advise.limits import MOST_LOST, MOST_UNDER_STOPS
from auditor.model.audit import Audit
from auditor.model.codes import FrameStatus


class Mark(StrEnum):
    """A culling mark. The audit itself never says "drop": that is the photographer's word."""

    KEEP = "keep"
    SECOND = "second"
    DROP = "drop"


class Basis(StrEnum):
    """What a suggestion rests on."""

    BEST = "best of its kind"
    NEEDED = "needed by a bracket"
    BEHIND = "ranked behind the best"
    NOT_NEEDED = "not needed by its bracket"


@dataclass(frozen=True, slots=True, kw_only=True)
class Suggestion:
    """One frame's suggested mark.

    Parameters
    ----------
    frame : str
    mark : Mark
    basis : Basis
    ahead : str or None
        The frame that is suggested in its place, where there is one.
    reasons : tuple of str
        Why, as the choice between near frames told it.
    """

    frame: str
    mark: Mark
    basis: Basis
    ahead: str | None = None
    reasons: tuple[str, ...] = ()


NO_PICTURE = frozenset({"damaged-data", "dark-frame"})
"""Findings of frames that are never suggested."""


def is_spoilt(status: str, codes: Iterable[str]) -> bool:
    """Whether a frame with these findings is no picture at all, not even for a blend."""
    return status == FrameStatus.UNREADABLE or not NO_PICTURE.isdisjoint(codes)


def is_usable(blown: float | None, blocked: float | None, headroom_stops: float | None) -> bool:
    """Whether a frame that lost and left so much was measured and would do as a picture by itself.

    Parameters
    ----------
    blown, blocked : float or None
        Shares of the frame.
    headroom_stops : float or None
        How much more light it could have taken; where that is not known it has no say.
    """
    if blown is None or blocked is None:
        return False
    return blown + blocked <= MOST_LOST and (headroom_stops or 0.0) <= MOST_UNDER_STOPS


def suggestions(audit: Audit) -> dict[str, Suggestion]:
    """Return a suggestion for each frame that the audit has an opinion of; the better mark wins.

    Of a picture that lies on two cards one is judged; the choice holds for both.
    """
    sound = {
        frame.id: frame
        for frame in audit.frames
        if not is_spoilt(frame.status, (found.code for found in frame.findings))
    }
    usable = {
        frame.id
        for frame in sound.values()
        if is_usable(frame.blown_fraction, frame.blocked_fraction, frame.headroom_stops)
    }
    found: dict[str, Suggestion] = {}
    for suggestion in _wanted(audit):
        blend = suggestion.basis is Basis.NEEDED
        if suggestion.frame in (sound if blend else usable):
            found.setdefault(suggestion.frame, suggestion)
    for frame in audit.frames:
        twin = next((found[name] for name in frame.also_at if name in found), None)
        if twin is not None:
            found.setdefault(frame.id, replace(twin, frame=frame.id))
    return found


def _wanted(audit: Audit) -> Iterator[Suggestion]:
    """Yield what keepers and brackets ask for, the better marks first."""
    for keeper in audit.keepers:
        reasons = keeper.why[: len(keeper.why) - len(keeper.behind)]
        yield Suggestion(frame=keeper.frame, mark=Mark.KEEP, basis=Basis.BEST, reasons=reasons)
    for bracket in audit.brackets:
        for frame in bracket.needed:
            yield Suggestion(frame=frame, mark=Mark.KEEP, basis=Basis.NEEDED)
    for keeper in audit.keepers:
        behind = {one.frame: (one.why,) for one in keeper.behind}
        for frame in keeper.rank:
            yield Suggestion(
                frame=frame,
                mark=Mark.SECOND,
                basis=Basis.BEHIND,
                ahead=keeper.frame,
                reasons=behind.get(frame, ()),
            )
    for bracket in audit.brackets:
        for frame in bracket.not_needed:
            yield Suggestion(frame=frame, mark=Mark.SECOND, basis=Basis.NOT_NEEDED)
