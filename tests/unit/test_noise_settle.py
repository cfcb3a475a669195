"""A frame borrows noise from its sisters only where it cannot tell its own."""

from __future__ import annotations

import pytest

from auditor.model.clip_evidence import ClipEvidence, PlaneEvidence
from auditor.model.measurement import NoiseEstimate
from auditor.noise.settle import SHOOT, settle_noise

BODY = ("Brackwell", "Brackwell F45", "7")
OWN = NoiseEstimate(3.0, 2.0, "photon transfer")
SILENT = NoiseEstimate(None, None, None, "all texture")


def settled(
    noise: dict[str, NoiseEstimate], iso: dict[str, float] | None = None
) -> dict[str, NoiseEstimate]:
    evidence = {
        name: ClipEvidence(
            BODY, (iso or {}).get(name, 100.0), 14, (PlaneEvidence("L", 16383, None, 9000),)
        )
        for name in noise
    }
    found = settle_noise(evidence, {name: (value,) for name, value in noise.items()})
    return {name: planes[0] for name, planes in found.items()}


def test_what_was_measured_stays() -> None:
    other = NoiseEstimate(4.0, 2.5, "masked border and photon transfer")
    assert settled({"a": OWN, "b": other}) == {"a": OWN, "b": other}


def test_a_silent_frame_takes_the_median_of_its_sisters() -> None:
    sisters = {str(gain): NoiseEstimate(3.0, gain, "photon transfer") for gain in (1.9, 2.0, 2.6)}
    lent = settled({"a": SILENT, **sisters})["a"]
    assert (lent.read_noise_dn, lent.gain_dn_per_e) == (3.0, 2.0)
    assert lent.source == SHOOT


def test_its_own_read_noise_is_kept_and_both_sources_are_told() -> None:
    dark = NoiseEstimate(3.3, None, "masked border", "too dark")
    lent = settled({"a": dark, "b": OWN})["a"]
    assert (lent.read_noise_dn, lent.gain_dn_per_e) == (3.3, 2.0)
    assert lent.source == f"masked border and {SHOOT}"
    assert lent.floor_dn == pytest.approx((2.0 + (4.0 + 4 * 3.3**2) ** 0.5) / 2)


def test_another_iso_lends_nothing() -> None:
    assert settled({"a": SILENT, "b": OWN}, {"b": 400.0})["a"] == SILENT


def test_frames_of_unknown_iso_lend_nothing_to_each_other() -> None:
    assert settled({"a": SILENT, "b": OWN}, {"a": 0.0, "b": 0.0})["a"] == SILENT


def test_nothing_is_invented_where_no_frame_tells() -> None:
    assert settled({"a": SILENT, "b": SILENT}) == {"a": SILENT, "b": SILENT}
