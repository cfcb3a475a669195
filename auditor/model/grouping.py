"""All that a shoot's frames say together: what grouping finds and judging reads."""

from __future__ import annotations

from dataclasses import dataclass, field

from auditor.model.audit import Bracket, Grad, Panorama, Setup, SiblingPair, SkyBalance
from auditor.model.rejected import Rejected


@dataclass(frozen=True, slots=True)
class Grouping:
    """All that a shoot's frames say together.

    Every frame with a picture belongs to exactly one set-up; dark frames belong to none.

    Parameters
    ----------
    drifts : dict
        Frame to the pace of the light at the middle of its exposure, stops a minute; negative:
        it falls. Frames near which no unfiltered frames tell it are left out.
    rejected : tuple of Rejected
        What was considered and not taken: the nearest candidates only.
    levels : dict
        Unfiltered frame to the light by what is static in its set-up, in stops; levels of one
        set-up may be compared, those of two may not.
    """

    setups: tuple[Setup, ...] = ()
    siblings: tuple[SiblingPair, ...] = ()
    brackets: tuple[Bracket, ...] = ()
    grads: tuple[Grad, ...] = ()
    skies: tuple[SkyBalance, ...] = ()
    panoramas: tuple[Panorama, ...] = ()
    drifts: dict[str, float] = field(default_factory=dict)
    rejected: tuple[Rejected, ...] = ()
    levels: dict[str, float] = field(default_factory=dict)
