"""The codes of what is judged: each word that a verdict, a level or a loss may be."""

from __future__ import annotations

from enum import StrEnum


class FrameStatus(StrEnum):
    """Whether the pixels of a file could be measured."""

    MEASURED = "measured"
    UNREADABLE = "unreadable"


class Verdict(StrEnum):
    """What became of the ends of a frame's tones."""

    HELD = "held"
    MAY_BE_CLIPPED = "may be clipped"
    BLOWN = "blown"
    BLOCKED = "blocked"
    BOTH = "both"
    DARK_FRAME = "dark frame"
    UNREADABLE = "unreadable"

    @property
    def lost_highlights(self) -> bool:
        """Whether more than points of the frame is blown."""
        return self in (Verdict.BLOWN, Verdict.BOTH)

    @property
    def lost_shadows(self) -> bool:
        """Whether an area is blocked up."""
        return self in (Verdict.BLOCKED, Verdict.BOTH)


class Clipping(StrEnum):
    """Whether clipping was seen in a frame, or its level is only claimed and many lie near it."""

    SEEN = "seen"
    NOT_SEEN = "not seen"
    MAY_BE_CLIPPED = "may be clipped"


class ShiftSource(StrEnum):
    """What a shift between two frames was measured on."""

    PATCHES = "patches"
    """Patches of single pixels: to a tenth of a pixel."""
    TILES = "tiles"
    """Means over tiles: to a twentieth of a tile."""


class Loss(StrEnum):
    """How grave a loss at the bright end is, in five grades."""

    NONE = "none"
    GLINTS = "glints"
    """Scattered points."""
    PATCH = "patch"
    """Small, or it may be the sun."""
    CHANNEL = "channel"
    """An area that may be rebuilt from the channels that hold it."""
    ALL_CHANNELS = "all channels"

    @property
    def grave(self) -> bool:
        """Whether an area is lost."""
        return self in (Loss.CHANNEL, Loss.ALL_CHANNELS)


class LevelSource(StrEnum):
    """What tells where a plane clips."""

    METADATA = "metadata"
    MEASURED = "measured"
    """This frame."""
    CHANNELS = "channels"
    """This frame's other channels."""
    SHOOT = "shoot"
    """Its sisters on this card."""
    HISTORY = "history"


class BlackSource(StrEnum):
    """What tells the black level."""

    METADATA = "metadata"
    MASKED_BORDER = "masked border"
    DARK_FRAMES = "dark frames"
    """Frames of the shoot without any light."""


class NoiseSource(StrEnum):
    """What tells the noise of a plane; two or three where each tells a part of it."""

    BORDER = "masked border"
    TRANSFER = "photon transfer"
    """The relation of local variance to local mean."""
    PROFILE = "noise profile"
    """As the file tells it."""
    SHOOT = "other frames of the shoot"
    BORDER_TRANSFER = "masked border and photon transfer"
    BORDER_PROFILE = "masked border and noise profile"
    TRANSFER_PROFILE = "photon transfer and noise profile"
    BORDER_SHOOT = "masked border and other frames of the shoot"
    TRANSFER_SHOOT = "photon transfer and other frames of the shoot"
    PROFILE_SHOOT = "noise profile and other frames of the shoot"
    BORDER_TRANSFER_SHOOT = "masked border and photon transfer and other frames of the shoot"
    BORDER_PROFILE_SHOOT = "masked border and noise profile and other frames of the shoot"
    TRANSFER_PROFILE_SHOOT = "photon transfer and noise profile and other frames of the shoot"

    @classmethod
    def of(cls, *parts: NoiseSource | None) -> NoiseSource | None:
        """Return what several tell together; None where nothing does."""
        known = [part for part in parts if part is not None]
        return cls(" and ".join(known)) if known else None


class PlaneName(StrEnum):
    """A colour plane of the sensor."""

    R = "R"
    G = "G"
    G1 = "G1"
    """The green that shares its rows with red."""
    G2 = "G2"
    """The green that shares its rows with blue."""
    B = "B"
    L = "L"
    """The one plane of a monochrome sensor."""


class Layout(StrEnum):
    """How colour lies on the sensor."""

    BAYER = "bayer"
    XTRANS = "xtrans"
    MONO = "mono"
    LINEAR = "linear"


class SunSide(StrEnum):
    """Where the sun stays that does not cross an edge."""

    ABOVE = "above"
    BELOW = "below"
    ONE_SIDE = "on one side of"
    """It touches the edge, and not on this day."""


class TimeSource(StrEnum):
    """What tells a shutter time."""

    APEX = "apex"
    """The APEX shutter value."""
    TAG = "tag"
    """The exposure time as written."""
    NOMINAL = "true of nominal"
    """The power-of-two time that the nominal one stands for."""


class KeeperLength(StrEnum):
    """Which frames of a set-up one to keep was chosen from."""

    SHORT = "short"
    LONG = "long"
    """Those behind one filter."""


class GradKind(StrEnum):
    """How the edge of a graduated filter runs."""

    SOFT = "soft"
    HARD = "hard"
    REVERSE = "reverse"
    """Strongest at its edge."""
    UNTOLD = ""
    """The picture does not tell."""


class BlendJob(StrEnum):
    """What is taken from one frame of a blend."""

    ALL = "all"
    HIGHLIGHTS = "highlights"
    MIDDLE_TONES = "middle tones"
    SHADOWS = "shadows"


class Cast(StrEnum):
    """The colour that a filter lends."""

    NEUTRAL = "neutral"
    WARM = "warm"
    COOL = "cool"
    GREEN = "green"
    MAGENTA = "magenta"


class Damage(StrEnum):
    """A trace of data lost without an error."""

    EMPTY_PLANE = "empty plane"
    EMPTY_ROWS = "empty rows"
    CONSTANT_BLOCK = "constant block"
    IMPOSSIBLE_VALUES = "impossible values"
    FOREIGN_SECTORS = "foreign sectors"
    FOREIGN_TILES = "foreign tiles"
    EMPTY_SECTORS = "empty sectors"
    DIGEST_MISMATCH = "digest mismatch"
    EVEN_CELLS = "even cells"
    """A scene may look like it, or a camera's way of packing; likewise the next."""
    ROW_JUMP = "row jump"
    ODD_SECTORS = "odd sectors"
    """Likewise: the picture breaks at one border of a sector, or one bit stands still in it."""
    ENDS_EARLY = "ends early"
    """The file, by what its header says; a header may be wrong."""
    BROKEN_PREVIEW = "broken preview"
    """Not of the raw picture."""

    @property
    def certain(self) -> bool:
        """Whether the raw picture has surely lost something."""
        return self not in (
            Damage.EVEN_CELLS, Damage.ROW_JUMP, Damage.ODD_SECTORS, Damage.ENDS_EARLY,
            Damage.BROKEN_PREVIEW,
        )  # fmt: skip
