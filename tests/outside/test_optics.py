"""Optics against published examples; the source stands beside each check."""

from __future__ import annotations

import math

import pytest

from auditor.light.optics import (
    airy_diameter_um,
    circle_mm,
    depth_of_field,
    diffraction,
    far_limit_mm,
    hyperfocal_mm,
    near_limit_mm,
)

MM_PER_FOOT = 304.8


def test_handbook_example() -> None:
    # US Army lesson SS0507 (armycommunications.tpub.com SS05070058): a 2-inch lens at f/8 with
    # a circle of 0.002 in, 20.8 ft, sharp from 10.4 ft. The handbook leaves out the added f.
    focal = 2 * 25.4
    reach = hyperfocal_mm(focal, 8.0, 0.002 * 25.4) - focal
    assert reach / MM_PER_FOOT == pytest.approx(20.8, abs=0.05)
    assert reach / 2 / MM_PER_FOOT == pytest.approx(10.4, abs=0.05)


@pytest.mark.parametrize(
    ("focal", "f_number", "circle", "reach"),
    [(50.0, 8.0, 0.02, 15625.0), (35.0, 11.0, 0.03, 3712.12)],
)  # calculator.7search.cc, both without the added focal length
def test_published_hyperfocal_distances(
    focal: float, f_number: float, circle: float, reach: float
) -> None:
    assert hyperfocal_mm(focal, f_number, circle) - focal == pytest.approx(reach, abs=0.01)


def test_the_two_definitions_differ_by_one_focal_length() -> None:
    # piglix.com Hyperfocal_distance: definition 1 less definition 2 is exactly f; and with
    # dofmaster.com/equations.html: 50 mm f/8 c 0.03 is 10466.67 mm.
    assert hyperfocal_mm(50, 8, 0.03) == pytest.approx(10466.67, abs=0.005)
    assert hyperfocal_mm(24, 11, 0.03) == pytest.approx(1769.45, abs=0.005)
    assert hyperfocal_mm(50, 8, 0.03) - 50**2 / (8 * 0.03) == pytest.approx(50)


def test_focused_at_the_hyperfocal_distance() -> None:
    # dofmaster.com/equations.html: near limit H/2, far limit infinite.
    reach = hyperfocal_mm(50, 8, 0.03)
    assert near_limit_mm(reach, reach, 50) == pytest.approx(5233.3, abs=0.05)
    assert far_limit_mm(reach, reach, 50) == math.inf


def test_limits_enclose_the_focus() -> None:
    # The same equations at 5 m: 5 (H - f) / (H ± s ...), worked by hand: 3.390 m and 9.528 m.
    depth = depth_of_field(50, 8, 0.03, focus_m=5.0)
    assert depth.near_m == pytest.approx(5 * 10416.667 / (10466.667 + 5000 - 100), rel=1e-6)
    assert depth.far_m == pytest.approx(5 * 10416.667 / (10466.667 - 5000), rel=1e-6)
    assert depth.near_m == pytest.approx(3.390, abs=1e-3)
    assert depth.far_m == pytest.approx(9.528, abs=1e-3)


# Airy disk article: r = 1.22 λ N; recomputed at 550 nm.
@pytest.mark.parametrize(
    ("f_number", "airy_um"), [(4, 5.37), (8, 10.74), (11, 14.76), (16, 21.47), (22, 29.52)]
)
def test_airy_disk(f_number: float, airy_um: float) -> None:
    assert airy_diameter_um(f_number) == pytest.approx(airy_um, abs=0.005)


@pytest.mark.parametrize("print_cm", [30.0, 90.0])
def test_circle_of_confusion_of_a_print_seen_from_its_diagonal(print_cm: float) -> None:
    # Handbook rule, worked by hand: c = viewing distance x tan 1' / enlargement. Diagonal of
    # 36 x 24 mm 43.267 mm; a print of any width seen from its own diagonal: 0.012586 mm.
    enlargement = 10.0 * print_cm / 36.0
    distance_mm = enlargement * math.hypot(36.0, 24.0)
    worked = distance_mm * math.tan(math.radians(1 / 60)) / enlargement
    assert circle_mm(1.0, 1.0, None) == pytest.approx(worked)
    assert circle_mm(1.0, 1.0, None) == pytest.approx(0.012586, abs=1e-6)


def test_the_customary_circle_stands_for_a_weaker_eye_and_many_pixels() -> None:
    # 0.03 mm from the diagonal is 2.38 arc minutes; at 45 megapixels (8256 x 5504 on 36 x 24 mm:
    # 4.36 um) it is 6.9 pixels wide.
    assert 0.03 / circle_mm(1.0, 1.0, None) == pytest.approx(2.38, abs=0.01)
    assert pytest.approx(6.9, abs=0.05) == 30.0 / (36_000.0 / 8256)


def test_the_circle_shrinks_with_the_sensor_and_never_under_a_pixel() -> None:
    assert circle_mm(1.5, 1.0, 3.9) == pytest.approx(0.012586 / 1.5, abs=1e-6)
    assert circle_mm(1.0, 0.2, 4.36) == pytest.approx(0.00436)
    assert circle_mm(1.0, 2.0, 4.36) == pytest.approx(0.025172, abs=1e-6)


def test_airy_disk_fills_the_circle_of_confusion_at_f22() -> None:
    # The same: d = 0.03 mm at N = 22.35.
    assert airy_diameter_um(22.35) == pytest.approx(30.0, abs=0.01)


def test_airy_against_pixels() -> None:
    # From the definition: at the limiting aperture the disk spans two pixels.
    limit = diffraction(8.0, 4.36).from_f_number
    assert limit is not None
    assert airy_diameter_um(limit) == pytest.approx(2 * 4.36)
