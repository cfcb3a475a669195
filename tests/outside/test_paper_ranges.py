"""Print sizes, viewing distances and paper ranges; the source stands beside each check."""

from __future__ import annotations

import pytest

from auditor.print.fit import PAPERS, paper_range_stops, print_size_cm, viewing_distance_cm


def test_print_size_at_300_ppi() -> None:
    # Worked by hand: 6000 x 4000 px at 300 ppi are 20 x 13.33 in, 50.8 x 33.87 cm.
    width_cm, height_cm = print_size_cm(6000, 4000, 300.0)
    assert width_cm == pytest.approx(50.8)
    assert height_cm == pytest.approx(33.867, abs=1e-3)


@pytest.mark.parametrize(
    ("ppi", "inches"), [(300.0, 11.46), (143.25, 24.0), (349.3, 25.0 / 2.54)]
)  # pixelcraft.photo.blog: ppi = 3438 / d, one arc minute
def test_viewing_distance_by_acuity(ppi: float, inches: float) -> None:
    assert viewing_distance_cm(ppi) / 2.54 == pytest.approx(inches, rel=1e-3)


@pytest.mark.parametrize(("centimetres", "dpi"), [(20, 436), (30, 291), (50, 175), (100, 87)])
def test_second_published_set_of_distances(centimetres: float, dpi: float) -> None:
    # moin.meidokon.net: 8732 / d(cm), dots rounded to whole ones.
    assert viewing_distance_cm(dpi) == pytest.approx(centimetres, rel=6e-3)


def test_textbook_eye() -> None:
    # NCERT Exemplar at philoid.in: 5.8e-4 rad, twice one arc minute, 300 dpi -> 14.5 cm.
    assert viewing_distance_cm(300.0) / 2 == pytest.approx(14.5, abs=0.1)


@pytest.mark.parametrize(
    ("dmax", "dmin", "stops"),
    [(1.7, 0.0, 5.65), (2.0, 0.0, 6.64), (2.3, 0.0, 7.64), (1.70, 0.06, 5.45), (2.30, 0.08, 7.37)],
)  # Dmax from imatest.com/solutions/dmax; stops = (Dmax - Dmin) / 0.30103, recomputed
def test_paper_range(dmax: float, dmin: float, stops: float) -> None:
    assert paper_range_stops(dmax, dmin) == pytest.approx(stops, abs=5e-3)


def test_contrast_of_papers() -> None:
    # The same source: 1.7, 2.0 and 2.3 are 50:1, 100:1 and 200:1.
    for dmax, contrast in ((1.7, 50.0), (2.0, 100.0), (2.3, 200.0)):
        assert 2.0 ** paper_range_stops(dmax, 0.0) == pytest.approx(contrast, rel=0.01)


def test_presets_carry_the_published_blacks() -> None:
    # imatest.com/solutions/dmax: 1.7 good matte, 2.0 good gloss, up to 2.3;
    # swpp.co.uk, The whole range, page 4 (2010): canvas 1.4 to 1.5, art and matt surfaces
    # 1.6 to 1.7, gloss, lustre and gloss barytas 2.0 to 2.2; silver gelatin 2.0 to 2.2 and
    # 2.4 to 2.6 for baryta with newer inks from memory.
    blacks = {name: paper.dmax for name, paper in PAPERS.items()}
    assert (blacks["matte"], blacks["gloss"], blacks["best gloss"]) == (1.7, 2.0, 2.3)
    assert 1.4 <= blacks["canvas"] <= 1.5
    assert 1.6 <= blacks["cotton rag"] <= 1.7
    assert 2.0 <= blacks["baryta"] <= 2.2
    assert 2.0 <= blacks["silver"] <= 2.2
    assert blacks["best baryta"] == 2.5
    assert all(paper.source for paper in PAPERS.values())
