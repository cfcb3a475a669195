"""What advice takes from outside; the source stands beside each check."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from auditor.advise.dial import trail_s
from auditor.advise.limits import MOST_UNDER_STOPS, STARLIGHT_STOPS
from auditor.model.codes import TimeSource
from auditor.model.facts import ExposureFacts, LensFacts
from auditor.model.settings import JudgeSettings
from tests.evenings import frame_at

# Excerpts of ISO 12232 (asstandardslist.mealir.com): noise speeds at ratios of 10, acceptable,
# and 40, excellent.
ACCEPTABLE, EXCELLENT = 10.0, 40.0


def test_tones_are_clean_from_what_iso_12232_calls_acceptable() -> None:
    assert JudgeSettings().clean_snr == ACCEPTABLE


def test_a_frame_is_too_dark_where_excellent_becomes_acceptable() -> None:
    # Photon noise grows with the root of the light (EMVA 1288): the ratio with it.
    assert pytest.approx(ACCEPTABLE / EXCELLENT) == 2.0 ** (-MOST_UNDER_STOPS / 2.0)


@pytest.mark.parametrize(
    ("ev100", "stars"),
    [(-3.0, True), (-2.1, True), (-1.0, False), (3.0, False)],
)
def test_stars_are_thought_of_from_the_light_of_a_full_moon_down(
    ev100: float, *, stars: bool
) -> None:
    # ANSI table at liquisearch.com/exposure_value/tabulated_exposure_values: landscapes under
    # the full moon -3 to -2; the blue hour and lit streets lie above.
    assert -STARLIGHT_STOPS == -2.0
    exposure = ExposureFacts(2.0**-ev100, TimeSource.APEX, 2.0**-ev100, 1.0, 100.0)
    lens = LensFacts("L", 16.0, 24.0)
    frame = replace(frame_at("A", None), exposure=exposure, lens=lens)
    found = trail_s(frame)
    assert (found is not None) == stars
    # 500 over the focal length on 24 x 36 mm (common practice).
    assert found is None or found == pytest.approx(500.0 / 24.0)
    assert math.isclose(exposure.ev100 or 0.0, ev100)
