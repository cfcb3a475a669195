"""Depth of field, hyperfocal distance and diffraction, each with its formula.

Lengths in millimetres unless the name says otherwise. Standard library only.
"""

from __future__ import annotations

import math
from dataclasses import replace

from auditor.model.audit import FrameResult, FrameSize
from auditor.model.facts import LensFacts
from auditor.model.optics import DepthOfField, Diffraction, FrameOptics
from auditor.model.remark import RemarkCode

FULL_FRAME_DIAGONAL_MM = math.hypot(36.0, 24.0)
ACUITY_RADIANS = math.radians(1.0 / 60.0)
"""One arc minute, what a good eye tells apart."""

GREEN_NM = 550.0
"""Wavelength to which the eye is most sensitive, near enough."""

AIRY_FACTOR = 2.44
"""Diameter of the first dark ring over wavelength and f-number (2 x 1.21967)."""

CIRCLE_FORMULA = "c = viewing distance × tan 1′ / enlargement, a pixel at least"
HYPERFOCAL_FORMULA = "H = f²/(N c) + f"
NEAR_FORMULA = "near = s (H − f) / (H + s − 2f)"
FAR_FORMULA = "far = s (H − f) / (H − s)"
AIRY_FORMULA = "d = 2.44 λ N"


def circle_mm(crop: float, viewing_diagonals: float, pitch_um: float | None) -> float:
    """Return the permissible circle of confusion, ``distance tan 1' / enlargement``.

    A print that is seen from so many of its own diagonals is enlarged as its distance grows, so
    that its size drops out: ``viewing_diagonals x diagonal of the sensor x tan 1'``. Less than a
    pixel is nothing that a sensor tells.
    """
    diagonal_mm = FULL_FRAME_DIAGONAL_MM / crop
    seen_mm = viewing_diagonals * diagonal_mm * math.tan(ACUITY_RADIANS)
    return max(seen_mm, (pitch_um or 0.0) / 1000.0)


def hyperfocal_mm(focal_mm: float, f_number: float, circle_mm: float) -> float:
    """Return the hyperfocal distance, ``H = f²/(N c) + f``.

    Focused there, everything from H/2 to infinity is drawn within the circle of confusion.
    """
    return focal_mm**2 / (f_number * circle_mm) + focal_mm


def near_limit_mm(focus_mm: float, hyperfocal: float, focal_mm: float) -> float:
    """Return the near limit of the depth of field, ``s (H - f) / (H + s - 2f)``."""
    return focus_mm * (hyperfocal - focal_mm) / (hyperfocal + focus_mm - 2.0 * focal_mm)


def far_limit_mm(focus_mm: float, hyperfocal: float, focal_mm: float) -> float:
    """Return the far limit, ``s (H - f) / (H - s)``; infinite from the hyperfocal distance on."""
    if focus_mm >= hyperfocal:
        return math.inf
    return focus_mm * (hyperfocal - focal_mm) / (hyperfocal - focus_mm)


def airy_diameter_um(f_number: float) -> float:
    """Return the diameter of the Airy disk to its first dark ring, ``2.44 λ N``, micrometres."""
    return AIRY_FACTOR * GREEN_NM * 1e-3 * f_number


def depth_of_field(
    focal_mm: float, f_number: float, circle_mm: float, focus_m: float | None = None
) -> DepthOfField:
    """Return hyperfocal distance and, where the focus distance is given, near and far limit.

    Parameters
    ----------
    focal_mm, f_number, circle_mm : float
        Positive.
    focus_m : float or None
        Longer than the focal length, or taken as not known.
    """
    reach = hyperfocal_mm(focal_mm, f_number, circle_mm)
    near = far = None
    if focus_m is not None and focus_m * 1000.0 > focal_mm:
        near = near_limit_mm(focus_m * 1000.0, reach, focal_mm) / 1000.0
        far = far_limit_mm(focus_m * 1000.0, reach, focal_mm) / 1000.0
    return DepthOfField(reach / 1000.0, reach / 2000.0, focus_m, near, far, circle_mm)


def crop_factor(lens: LensFacts) -> float | None:
    """Return the sensor's crop, focal length in 35 mm terms over the true one.

    The file rounds the figure to whole millimetres, so it is good to about two per cent.
    None where either is absent or the quotient is none that a sensor could have.
    """
    if not lens.focal_mm or not lens.focal_35mm:
        return None
    crop = lens.focal_35mm / lens.focal_mm
    return crop if 0.3 <= crop <= 12.0 else None


def pixel_pitch_um(lens: LensFacts, size: FrameSize | None) -> float | None:
    """Return the distance of neighbouring pixels, from crop and pixel count.

    Formula: ``43.27 mm / crop / sqrt(width² + height²)``, the diagonal of 36 x 24 mm being
    what focal lengths in 35 mm terms refer to. None where the crop is not known.
    """
    crop = crop_factor(lens)
    if crop is None or size is None:
        return None
    return 1000.0 * FULL_FRAME_DIAGONAL_MM / crop / math.hypot(size.width, size.height)


def diffraction(f_number: float, pitch_um: float | None) -> Diffraction:
    """Compare the Airy disk with the pixel pitch (micrometres; None where it is not known)."""
    airy_um = airy_diameter_um(f_number)
    if pitch_um is None:
        return Diffraction(airy_um, None, None)
    return Diffraction(airy_um, airy_um / pitch_um, 2.0 * pitch_um / airy_diameter_um(1.0))


def frame_optics(frame: FrameResult, viewing_diagonals: float = 1.0) -> FrameOptics:
    """Work out depth of field and diffraction for a frame's own lens, aperture and sensor.

    Parameters
    ----------
    viewing_diagonals : float
        From how many of its own diagonals the print is seen.
    """
    focal_mm = _within(frame.lens.focal_mm, 0.5, 20_000.0)
    f_number = _within(frame.exposure.f_number, 0.3, 1_000.0)
    crop = crop_factor(frame.lens)
    size = frame.size
    for told in frame.remarks:
        if size is not None and told.code is RemarkCode.PROXY:  # the lens drew on the original
            size = replace(size, width=int(told.number("width")), height=int(told.number("height")))
    pitch_um = pixel_pitch_um(frame.lens, size)
    depth = None
    if focal_mm and f_number and crop:
        circle = circle_mm(crop, viewing_diagonals, pitch_um)
        depth = depth_of_field(focal_mm, f_number, circle, frame.lens.focus_distance_m)
    spread = diffraction(f_number, pitch_um) if f_number else None
    return FrameOptics(focal_mm, f_number, crop, pitch_um, depth, spread)


def _within(value: float | None, least: float, most: float) -> float | None:
    """Keep what glass can have; files hold zeros and worse."""
    return value if value is not None and least <= value <= most else None
