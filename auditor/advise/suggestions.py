"""The audit's own choice as a mark for each frame, with the reason: for pages to offer."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
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
    """What a suggestion rests on; of two for one frame the earlier here counts."""

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
    basis : Basis
    ahead : str or None
        The frame that is suggested in its place, where there is one.
    reasons : tuple of str
        Why, as the choice between near frames told it.
    """

    frame: str
    basis: Basis
    ahead: str | None = None
    reasons: tuple[str, ...] = ()

    @property
    def mark(self) -> Mark:
        """What to mark the frame with."""
        return Mark.KEEP if self.basis in (Basis.BEST, Basis.NEEDED) else Mark.SECOND


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


def choose(
    wanted: Iterable[Suggestion],
    sound: Collection[str],
    usable: Collection[str],
    also_at: Mapping[str, Iterable[str]],
) -> dict[str, Suggestion]:
    """Choose one suggestion a frame.

    Parameters
    ----------
    wanted : iterable of Suggestion
        What keepers and brackets ask for.
    sound, usable : collection of str
        Frames that will do for a blend, and as pictures by themselves.
    also_at : mapping of str to iterable of str
        Of a picture that lies on two cards one is judged; the choice holds for both.
    """
    bases = list(Basis)
    found: dict[str, Suggestion] = {}
    for one in sorted(wanted, key=lambda one: bases.index(one.basis)):
        if one.frame in (sound if one.basis is Basis.NEEDED else usable):
            found.setdefault(one.frame, one)
    for frame, others in also_at.items():
        twin = next((found[name] for name in others if name in found), None)
        if twin is not None:
            found.setdefault(frame, replace(twin, frame=frame))
    return found


def suggestions(audit: Audit) -> dict[str, Suggestion]:
    """Return a suggestion for each frame that the audit has an opinion of."""
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
    also_at = {frame.id: frame.also_at for frame in audit.frames}
    return choose(_wanted(audit), sound, usable, also_at)


def _wanted(audit: Audit) -> Iterator[Suggestion]:
    """Yield what keepers and brackets ask for."""
    for keeper in audit.keepers:
        reasons = keeper.why[: len(keeper.why) - len(keeper.behind)]
        yield Suggestion(frame=keeper.frame, basis=Basis.BEST, reasons=reasons)
        behind = {one.frame: (one.why,) for one in keeper.behind}
        for frame in keeper.rank:
            yield Suggestion(
                frame=frame,
                basis=Basis.BEHIND,
                ahead=keeper.frame,
                reasons=behind.get(frame, ()),
            )
    for bracket in audit.brackets:
        for frame in bracket.needed:
            yield Suggestion(frame=frame, basis=Basis.NEEDED)
        for frame in bracket.not_needed:
            yield Suggestion(frame=frame, basis=Basis.NOT_NEEDED)
