"""What a frame tells of clipping, and by what it is known which frames are sisters."""

from __future__ import annotations

from dataclasses import dataclass

from auditor.model.measurement import PileUp

LevelKey = tuple[str, str, str, float, int, str]
"""Make, model, serial, ISO, bit depth, plane of what sensor."""


@dataclass(frozen=True, slots=True)
class ClipEvidence:
    """What one frame tells of clipping: small enough to keep for a whole archive.

    Parameters
    ----------
    body : tuple of str
        Make, model and serial number.
    planes : tuple of PlaneMeasurement
        In order; only their pile_ups, white levels and histogram ends are used.
    """

    body: tuple[str, str, str]
    iso: float
    """0 where the file does not tell it."""
    bit_depth: int
    planes: tuple[PlaneEvidence, ...]
    sensor: str = ""
    """Layout, size, black and a phone's lens: it may hold several sensors."""

    scaled: bool = False
    """Whether channels may have been multiplied one by one, as in linear data: they clip apart."""

    @property
    def has_sisters(self) -> bool:
        """Whether other frames can be told to be of the same body and ISO."""
        return self.iso > 0 and any(self.body)

    def key(self, plane: str) -> LevelKey:
        """Return what the level of a plane depends on."""
        return (*self.body, self.iso, self.bit_depth, f"{plane} {self.sensor}".strip())

    def reach_key(self, plane: str) -> LevelKey:
        """Return by what it is known how far a plane can record: by all, where none was scaled."""
        return self.key(plane if self.scaled else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class JustUnder:
    """Pixels just under a pile-up.

    Parameters
    ----------
    pixels : int
    expected : float
        How many those farther down let expect.
    total : int
        Of the plane.
    """

    pixels: int
    expected: float
    total: int


@dataclass(frozen=True, slots=True)
class PlaneEvidence:
    """The top end of one plane."""

    name: str
    white_dn: float
    pile_up: PileUp | None
    top_dn: int
    """The highest DN that more than a few pixels reach."""
    black_dn: float = 0.0
    near_top: float = 0.0
    """Share of the plane's pixels just under the highest DN."""
    bends_from_dn: float | None = None
    """Raw DN from which the response was seen to bend over."""
    clips_apart: bool = False
    """Whether some lines or places clip elsewhere than at the pile-up."""
    next_code: float = 0.0
    """Share of the plane's pixels in the code under the pile-up's edge, where codes are coarse."""
    code_dn: float = 1.0
    """Distance of the codes at the top."""

    over_claim: float = 0.0
    """Share of the plane's pixels beyond what the file claims."""
    beyond: float = 0.0
    """Share of the plane's pixels that lie clearly above the pile-up."""
    leads_up: float = 1.0
    """Pixels not far under the pile-up, as a share of it."""
    mode: PileUp | None = None
    """The topmost mode, where no pile-up was found: it may be one."""
    top_half: float = 0.0
    """Share of the pixels at the very top that lie in its upper half; 0 where they are few."""
    crowded: float = 0.0
    """Share of the plane's pixels that crowd just under the pile-up, over those farther down."""

    just_under: JustUnder | None = None
    """What lies just under a sharp pile-up."""

    @property
    def reach_dn(self) -> float:
        """What the plane reaches over black."""
        return self.top_dn - self.black_dn
