"""A frame borrows noise from its sisters only where it cannot tell its own."""

from __future__ import annotations

import pytest

from auditor.model.clip_evidence import ClipEvidence, PlaneEvidence
from auditor.model.codes import NoiseSource
from auditor.model.measurement import NoiseEstimate
from auditor.model.remark import Remark, RemarkCode, remark
from auditor.noise.settle import settle_noise

BODY = ("Brackwell", "Brackwell F45", "7")
OWN = NoiseEstimate(3.0, 2.0, NoiseSource.TRANSFER)
SILENT = NoiseEstimate(None, None, None, (remark(RemarkCode.FEW_LEVELS),))


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
    other = NoiseEstimate(4.0, 2.5, NoiseSource.BORDER_TRANSFER)
    assert settled({"a": OWN, "b": other}) == {"a": OWN, "b": other}


def test_a_silent_frame_takes_the_median_of_its_sisters() -> None:
    sisters = {
        str(gain): NoiseEstimate(3.0, gain, NoiseSource.TRANSFER) for gain in (1.9, 2.0, 2.2)
    }
    lent = settled({"a": SILENT, **sisters})["a"]
    assert (lent.read_noise_dn, lent.gain_dn_per_e) == (3.0, 2.0)
    assert lent.source == NoiseSource.SHOOT


def test_its_own_read_noise_is_kept_and_both_sources_are_told() -> None:
    dark = NoiseEstimate(3.3, None, NoiseSource.BORDER, (remark(RemarkCode.FEW_LEVELS),))
    lent = settled({"a": dark, "b": OWN})["a"]
    assert (lent.read_noise_dn, lent.gain_dn_per_e) == (3.3, 2.0)
    assert lent.source == NoiseSource.BORDER_SHOOT
    assert lent.floor_dn == pytest.approx((2.0 + (4.0 + 4 * 3.3**2) ** 0.5) / 2)


def test_another_iso_lends_nothing() -> None:
    assert settled({"a": SILENT, "b": OWN}, {"b": 400.0})["a"] == SILENT


def test_frames_of_unknown_iso_lend_nothing_to_each_other() -> None:
    assert settled({"a": SILENT, "b": OWN}, {"a": 0.0, "b": 0.0})["a"] == SILENT


def test_nothing_is_invented_where_no_frame_tells() -> None:
    assert settled({"a": SILENT, "b": SILENT}) == {"a": SILENT, "b": SILENT}


def gains(*values: float, iso: dict[str, float] | None = None) -> NoiseEstimate:
    """What a silent frame takes from others with these gains."""
    frames = {
        str(n): NoiseEstimate(3.0, gain, NoiseSource.TRANSFER) for n, gain in enumerate(values)
    }
    return settled({"a": SILENT, **frames}, iso)["a"]


def test_the_odd_figure_of_one_does_not_rule() -> None:
    assert gains(2.0, 2.02, 5.0).gain_dn_per_e == pytest.approx(2.01)
    assert gains(2.0, 2.25).gain_dn_per_e == pytest.approx(2.125)


def test_those_that_do_not_agree_lend_nothing_and_it_is_said() -> None:
    for values in [(2.0, 3.0), (1.0, 2.0, 4.0)]:
        lent = gains(*values)
        assert lent.gain_dn_per_e is None
        assert lent.remarks == (*SILENT.remarks, remark(RemarkCode.SISTERS_DISAGREE))


@pytest.mark.parametrize(
    ("values", "lent"), [((2.3, 2.5, 2.6, 4.4, 8.0), True), ((1.0, 2.0, 2.1, 4.0, 6.0), False)]
)
def test_more_than_half_agree(values: tuple[float, ...], lent: bool) -> None:
    assert (gains(*values).gain_dn_per_e is not None) == lent


@pytest.mark.parametrize(("second", "lent"), [(2.0 * 1.32, True), (2.0 * 1.4, False)])
def test_two_agree_within_fifteen_percent_of_their_middle(second: float, lent: bool) -> None:
    assert (gains(2.0, second).gain_dn_per_e is not None) == lent


def test_what_one_frame_alone_tells_is_lent_with_a_doubt() -> None:
    lent = gains(2.0)
    assert (lent.gain_dn_per_e, lent.remarks) == (2.0, (remark(RemarkCode.ONE_SISTER),))


@pytest.mark.parametrize(("gain", "lent"), [(2.0, True), (2.5, True), (2.7, False), (6.0, False)])
def test_one_frame_alone_is_held_against_other_isos(gain: float, lent: bool) -> None:
    """At ISO 400 the gain is 8: 2 at ISO 100."""
    found = gains(gain, 8.0, iso={"1": 400.0})
    assert found.gain_dn_per_e == (gain if lent else None)
    assert (found.remarks == ()) == lent


def test_a_frame_is_no_other_frame_to_itself() -> None:
    """It alone tells a gain, and no frame a read noise: nothing was taken from any other."""
    own = NoiseEstimate(None, 2.0, NoiseSource.TRANSFER, (remark(RemarkCode.NO_READ_NOISE),))
    assert settled({"a": own})["a"] == own
    assert settled({"a": own, "b": SILENT})["a"] == own


BRIGHT = remark(RemarkCode.BRIGHT_ALONE)


def told(gain: float, *remarks: Remark, border: bool = True) -> NoiseEstimate:
    source = NoiseSource.BORDER_TRANSFER if border else NoiseSource.TRANSFER
    return NoiseEstimate(3.0, gain, source, remarks)


@pytest.mark.parametrize(("gain", "own"), [(2.45, True), (2.55, False), (1.1, False), (1.6, True)])
def test_a_gain_that_sisters_speak_against_is_theirs(gain: float, own: bool) -> None:
    found = settled({"a": told(gain), "b": told(2.0), "c": told(2.0)})
    assert found["a"].gain_dn_per_e == (gain if own else 2.0)
    assert found["a"].source == (NoiseSource.BORDER_TRANSFER if own else NoiseSource.BORDER_SHOOT)
    assert found["b"] == told(2.0)


def test_two_frames_alone_do_not_rule_each_other_out() -> None:
    frames = {"a": told(3.0), "b": told(2.0)}
    assert settled(frames) == frames


@pytest.mark.parametrize(("gain", "own"), [(2.4, True), (1.45, False), (0.9, True), (0.3, False)])
def test_other_isos_speak_against_a_gain_of_no_iso(gain: float, own: bool) -> None:
    """Three frames at ISO 400 let expect 2; a stop off it is that of ISO 50, and four of none."""
    iso = dict.fromkeys("bcd", 400.0)
    found = settled({"a": told(gain)} | {name: told(8.0) for name in iso}, iso)["a"]
    assert found.gain_dn_per_e == (gain if own else None)
    assert own or found.remarks == (remark(RemarkCode.SISTERS_TELL_ANOTHER),)


@pytest.mark.parametrize(("iso", "own"), [(80.0, True), (100.0, False), (125.0, False)])
def test_isos_under_the_base_are_held_against_none(iso: float, own: bool) -> None:
    isos = {"a": iso} | dict.fromkeys("bcd", 400.0)
    frames = {"a": told(0.0145 * iso)} | {name: told(8.0) for name in "bcd"}
    assert (settled(frames, isos)["a"].gain_dn_per_e is not None) == own


def test_what_was_fitted_along_with_a_wrong_gain_goes_with_it() -> None:
    iso = dict.fromkeys("bcd", 400.0)
    found = settled({"a": told(0.3, border=False)} | {name: told(8.0) for name in iso}, iso)["a"]
    assert (found.read_noise_dn, found.source) == (None, None)


@pytest.mark.parametrize("iso", [100.0, 400.0])
@pytest.mark.parametrize(("gain", "borne_out"), [(1.0, True), (1.14, True), (0.86, True),
                                                 (1.18, False), (0.6, False)])  # fmt: skip
def test_what_only_bright_tones_tell_is_borne_out_by_one_other(
    gain: float, borne_out: bool, iso: float
) -> None:
    frames = {"a": told(2.0 * gain, BRIGHT), "b": told(2.0 * iso / 100.0)}
    found = settled(frames, {"b": iso})["a"]
    assert (found == told(2.0 * gain)) == borne_out
    assert borne_out or found.gain_dn_per_e in (None, 2.0)


def test_bright_tones_do_not_bear_each_other_out() -> None:
    found = settled({name: told(2.0, BRIGHT) for name in "abc"})
    for own in found.values():
        assert own == NoiseEstimate(3.0, None, NoiseSource.BORDER, (BRIGHT,))
