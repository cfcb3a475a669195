"""How alike two frames are, and whether that makes them one composition."""

from __future__ import annotations

from dataclasses import dataclass, replace

from auditor.group.limits import (
    COMPARED_OVERLAP,
    LEAST_VOTING,
    MOST_AGREE,
    MOST_AGREE_LEAST,
    MOVED_AGREEING,
    MOVED_CORRELATION,
    MOVED_STRONG,
    STRONG_AGREE,
    STRONG_JUDGED,
    STRONG_LEAST,
    UNMOVED_AGREEING,
    UNMOVED_CORRELATION,
    UNMOVED_STRONG,
    UNMOVED_TILES,
)
from auditor.model.rejected import Reason, Why


@dataclass(frozen=True, slots=True)
class Ballot:
    """What the blocks of two frames say.

    Parameters
    ----------
    agreeing, voting : int
        Blocks with structure in both, and those of them that agree.
    strong : int
        Blocks in which either frame shows what neither waves nor clouds do.
    strong_agreement : float
        Middle of the correlations of the strong blocks: rocks of different places are alike as
        a whole, but not block by block.
    strong_first, strong_second : (int, float)
        The same of the blocks that are strong in the first frame, and in the second.
    """

    agreeing: int = 0
    voting: int = 0
    strong: int = 0
    strong_agreement: float = 0.0
    strong_first: tuple[int, float] = (0, 0.0)
    strong_second: tuple[int, float] = (0, 0.0)

    def of_strong(self, *, first: bool) -> Ballot:
        """Count as strong only the blocks that are so in one of the frames.

        Where it was exposed much longer, its water is smooth, and waves of the other are no
        rocks.
        """
        strong, agreement = self.strong_first if first else self.strong_second
        return replace(self, strong=strong, strong_agreement=agreement)


@dataclass(frozen=True, slots=True)
class Likeness:
    """How alike two frames are at their best shift.

    Parameters
    ----------
    correlation : float
        Over all that both record, at that shift.
    ballot : Ballot
        What the blocks say at that shift.
    overlap : float
        Share of the frame that both record at that shift.
    right, down : float
        By how many tiles the second picture lies to the right and lower.
    level_rows : float
        Correlation of the steps between rows (a horizon, a far shore) without any shift.
    error_tiles : float or None
        Standard error of the shift; None where it is known to parts of a tile only roughly.
    """

    correlation: float = 0.0
    ballot: Ballot = Ballot()
    overlap: float = 0.0
    right: float = 0.0
    down: float = 0.0
    level_rows: float = 0.0
    error_tiles: float | None = None

    @property
    def can_tell(self) -> bool:
        """Whether both frames hold enough to compare."""
        return (
            self.ballot.voting >= LEAST_VOTING
            and self.overlap >= COMPARED_OVERLAP
            and self.correlation > -1.0
        )

    @property
    def featureless(self) -> bool:
        """Whether there is nothing in either frame but sky and water."""
        return self.ballot.strong < STRONG_LEAST

    @property
    def matches(self) -> bool:
        """Whether what holds still is the same in both, at that shift."""
        return self.against is None

    @property
    def against(self) -> Why | None:
        """What speaks against one composition; None where nothing does.

        A best shift of next to nothing is itself a sign of one tripod position; any other must
        bring better proof. Where most of a frame is blown, the correlation of what is left
        says little, but its blocks do.
        """
        unmoved = max(abs(self.right), abs(self.down)) <= UNMOVED_TILES
        ballot = self.ballot
        most = ballot.agreeing >= max(MOST_AGREE_LEAST, MOST_AGREE * ballot.voting)
        if unmoved and most and ballot.strong_agreement >= STRONG_AGREE:
            return None
        if not self.can_tell:
            return Why(Reason.NOTHING_TO_COMPARE, ballot.voting, LEAST_VOTING)
        least, agreeing, block = (
            (UNMOVED_CORRELATION, UNMOVED_AGREEING, UNMOVED_STRONG)
            if unmoved
            else (MOVED_CORRELATION, MOVED_AGREEING, MOVED_STRONG)
        )
        if self.correlation < least:
            return Why(Reason.LITTLE_ALIKE, self.correlation, least)
        if ballot.strong >= STRONG_JUDGED and ballot.strong_agreement < block:
            return Why(Reason.LITTLE_ALIKE, ballot.strong_agreement, block)
        if ballot.agreeing < agreeing:
            return Why(Reason.PARTS_DISAGREE, ballot.agreeing, agreeing)
        return None
