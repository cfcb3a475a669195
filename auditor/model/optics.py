"""What a frame's lens, aperture and sensor do to its sharpness."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


@dataclass(frozen=True, slots=True)
class Diffraction:
    """The Airy disk against the pixels.

    Parameters
    ----------
    airy_um : float
        Diameter of the first dark ring.
    airy_pixels : float or None
        The same in pixel pitches.
    from_f_number : float or None
        Where the disk spans two pixels: from there on diffraction softens single pixels
        (common practice; a print forgives more).
    """

    airy_um: float
    airy_pixels: float | None
    from_f_number: float | None


@dataclass(frozen=True, slots=True)
class DepthOfField:
    """What lies sharp, in metres.

    Parameters
    ----------
    hyperfocal_m, hyperfocal_near_m : float
        Focused at the first, everything is sharp from the second to infinity.
    focus_m, near_m : float or None
        None where the focus distance is not known.
    far_m : float or None
        Likewise; infinite from the hyperfocal distance on.
    circle_mm : float
        Permissible circle of confusion.
    """

    hyperfocal_m: float
    hyperfocal_near_m: float
    focus_m: float | None
    near_m: float | None
    far_m: float | None
    circle_mm: float

    @property
    def to_infinity(self) -> bool | None:
        """Whether it is sharp to infinity; None where the focus distance is not known."""
        return None if self.far_m is None else self.far_m == float("inf")


@dataclass(frozen=True, slots=True)
class FrameOptics:
    """The optics of one frame, with the reasons for what could not be worked out."""

    focal_mm: float | None
    """Focal length."""
    f_number: float | None
    """f-number."""
    crop: float | None
    """Focal length in 35 mm terms over the true one."""
    pitch_um: float | None
    """Distance of neighbouring pixels, micrometres."""
    depth: DepthOfField | None
    diffraction: Diffraction | None
    reasons: tuple[str, ...] = ()
    """The reason of each null."""


class NoShading(StrEnum):
    """Why the shading of the lens cannot be told from a frame."""

    SCENE = "scene"
    LIGHT = "light"
    CLIPPED = "clipped"
    DARK = "dark"
    TOO_SMALL = "too-small"


@dataclass(frozen=True, slots=True)
class LensShading:
    """How much darker the lens leaves the corners; None where the scene does not tell it.

    Parameters
    ----------
    corner_stops : float or None
        The corners over the centre: negative where they are darker.
    error_stops : float or None
        Its standard error, with what the scene's own curvature may add.
    reason : NoShading or None
        Why it is not known.
    """

    corner_stops: float | None = None
    error_stops: float | None = None
    reason: NoShading | None = None
