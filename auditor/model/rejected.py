"""What grouping considered and did not take: a code, a figure and the limit it met."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple


class GroupKind(StrEnum):
    """What some frames might have been together."""

    SETUP = "set-up"
    PAIR = "pair"
    BRACKET = "bracket"
    GRAD = "graduated filter"
    PANORAMA = "panorama"


class Reason(StrEnum):
    """Why they are not; what ``value`` and ``limit`` are stands beside each."""

    TOO_LATE = "too late"
    """Seconds from the end of one frame to the start of the next."""
    OTHER_LENS = "other lens"
    """No figure: the files name two lenses."""
    OTHER_FOCAL_LENGTH = "other focal length"
    """Share by which the focal lengths differ."""
    OTHER_SIZE = "other size"
    """No figure: the pictures have not the same rows and columns."""
    NOTHING_TO_COMPARE = "nothing to compare"
    """Blocks of the picture with structure in both."""
    PICTURE_MOVED = "picture moved"
    """Share of the longer side by which the picture moved at its best match."""
    LITTLE_ALIKE = "little alike"
    """Correlation of the structure of the two pictures."""
    PARTS_DISAGREE = "parts disagree"
    """Blocks of the picture that agree."""
    CAMERA_TURNED = "camera turned"
    """Correlation as neighbours of a panorama; the limit is what it had to stay under."""
    NO_FILTER = "no filter"
    """Stops by which the longer frame recorded less than its settings."""
    NO_SHORT_FRAME = "no short frame"
    """No figure: no unfiltered, shorter frame of the set-up records what the long one does."""
    LITTLE_SHARED = "little shared"
    """Share of the picture that both record between floor and saturation."""
    UNEVEN = "uneven"
    """Stops by which the parts of the picture disagree."""
    TOO_WEAK = "too weak"
    """Stops measured."""
    SETTINGS_UNKNOWN = "settings unknown"
    """No figure: a file does not tell its exposure."""
    TOO_FEW_FRAMES = "too few frames"
    """Frames, or framings."""
    UNEVEN_STEPS = "uneven steps"
    """Stops by which a step of the bracket leaves the even one."""
    STEP_TOO_SMALL = "step too small"
    """Stops from frame to frame."""
    STEP_TOO_LARGE = "step too large"
    """Stops from frame to frame."""
    LIGHT_CHANGED = "light changed"
    """Stops by which the light changed."""
    NO_EDGE = "no edge"
    """No figure: what was held back does not follow the curve of a graduated filter."""
    COLUMNS_DISAGREE = "columns disagree"
    """Share of the columns whose sky ends on one straight line."""
    SKY_BELOW = "sky goes on below"
    """Share of the columns whose sky goes on below the line."""
    SIDES_DISAGREE = "sides disagree"
    """Stops by which left, middle and right differ at the top."""
    FOLLOWS_THE_SCENE = "follows the scene"
    """No figure: bright and dark parts beside each other were not held back alike."""
    ASLANT = "aslant"
    """Share of the frame by which the camera rose or sank while it turned."""
    UNLIKE_STEP = "unlike step"
    """Share of the frame by which one turn of the camera differs from those before."""


class Why(NamedTuple):
    """A reason with what was measured and the limit it met."""

    reason: Reason
    value: float | None = None
    limit: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rejected:
    """One thing that was considered and not taken.

    Parameters
    ----------
    what : GroupKind
    frames : tuple of str
        In order of time.
    reason : Reason
    value, limit : float or None
        What was measured and the limit it met, in the unit of the reason.
    """

    what: GroupKind
    """What they might have been together."""
    frames: tuple[str, ...]
    reason: Reason
    """The first thing that spoke against it."""
    value: float | None = None
    limit: float | None = None
