"""What each ISO of a body loses, on bodies whose full well and read noise are known."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.advise.isos import find_iso_costs, iso_figures
from auditor.findings.base import ShootView
from auditor.model.advice import IsoFigures
from auditor.model.audit import Bracket, FrameResult
from auditor.model.codes import FrameStatus, TimeSource, Verdict
from auditor.model.facts import CameraFacts, ExposureFacts, LensFacts
from auditor.model.grouping import Grouping
from auditor.model.history import SensorRow, Spread
from auditor.model.settings import Settings
from auditor.words.findings import with_words
from auditor.words.next_time import iso_lines
from sample_generation.sensor import Sensor, digital_scale

BODY = "Brackwell F45"


def row(iso: float, full_e: float | None, read_e: float, channel: str = "G1") -> SensorRow:
    """Return a row as the history sums it up; the range is saturation over the floor."""
    floor = (1.0 + math.sqrt(1.0 + 4.0 * read_e**2)) / 2.0
    black = Spread(4, 512.0, 512.0, 0.0, 512.0, 512.0)
    return SensorRow(
        body=BODY, iso=iso, channel=channel, frames=4, black_dn=black, saturation_dn=None,
        read_noise_dn=None, gain_dn_per_e=None, full_well_e=full_e, read_noise_e=read_e,
        dynamic_range_stops=None if full_e is None else math.log2(full_e / floor),
    )  # fmt: skip


def figures(*rows: SensorRow, earlier: tuple[SensorRow, ...] = ()) -> dict[float, IsoFigures]:
    return {one.iso: one for one in iso_figures(rows, earlier)}


@given(
    base_e=st.floats(5e3, 2e5),
    stops=st.lists(st.integers(0, 7), min_size=2, max_size=5, unique=True),
)
def test_a_body_that_keeps_to_iso_12232_loses_nothing_beyond_the_iso(
    base_e: float, stops: list[int]
) -> None:
    """Saturation-based speed is 78/Hsat (colour_hdri's dsc.py citing ISO 12232:2006).

    So at twice the speed half the exposure, and half the electrons, saturate.
    """
    found = figures(*(row(100.0 * 2**n, base_e / 2**n, 3.0) for n in stops))
    losses = [one.full_well_loss_stops for iso, one in sorted(found.items())]
    assert losses[0] is None
    assert losses[1:] == pytest.approx([0.0] * (len(stops) - 1), abs=0.006)


def test_a_third_of_a_stop_that_is_calculated_loses_full_well_and_range() -> None:
    """ISO 125 clips a quarter stop early; ISO 160 is made from ISO 200."""
    found = figures(
        row(100, 50_000, 4.0), row(125, 50_000 / 1.25 / 2**0.25, 4.0), row(160, 25_000, 4.0),
        row(200, 25_000, 4.0),
    )  # fmt: skip
    assert found[125].full_well_loss_stops == pytest.approx(0.25, abs=0.01)
    assert found[160].full_well_loss_stops == pytest.approx(1.0 - math.log2(1.6), abs=0.01)
    assert found[160].range_loss_stops == pytest.approx(1.0, abs=0.01)
    assert found[200].full_well_loss_stops == 0.0
    assert found[100].range_loss_stops == 0.0


def simulated(iso: float) -> SensorRow:
    """Return what the simulated camera holds: whole stops by the amplifier, thirds calculated."""
    sensor = Sensor()
    _native, scale = digital_scale(iso)
    full_dn = sensor.black_dn + (sensor.saturation_dn - sensor.black_dn) * scale
    most_dn = min(2.0**sensor.bit_depth - 1.0, full_dn)
    gain = sensor.gain_dn_per_e(iso)
    return row(iso, (most_dn - sensor.black_dn) / gain, sensor.read_noise_dn(iso) / gain)


def test_the_simulated_camera_loses_at_the_thirds_pulled_from_the_next_stop() -> None:
    found = figures(*map(simulated, (100.0, 125.0, 160.0, 200.0, 400.0)))
    losses = {iso: one.full_well_loss_stops for iso, one in found.items()}
    assert losses == {
        100.0: None, 125.0: pytest.approx(0.0, abs=0.01), 160.0: pytest.approx(0.32, abs=0.02),
        200.0: pytest.approx(0.0, abs=0.01), 400.0: pytest.approx(0.0, abs=0.01),
    }  # fmt: skip


def test_a_second_gain_is_found_where_the_read_noise_drops_and_the_range_rises() -> None:
    found = figures(
        row(100, 60_000, 6.0), row(200, 30_000, 5.6), row(400, 15_000, 2.2), row(800, 7_500, 2.1)
    )
    assert {iso for iso, one in found.items() if one.gain_step} == {400.0}
    assert {iso for iso, one in found.items() if one.more_in_vain} == {400.0, 800.0}
    # an amplifier that only hides the converter's noise raises no range
    slow = figures(row(100, 60_000, 8.0), row(200, 30_000, 5.0), row(400, 15_000, 3.5))
    assert not any(one.gain_step for one in slow.values())
    assert not any(one.more_in_vain for one in slow.values())


@pytest.mark.parametrize(("drop", "step"), [(0.3, False), (0.5, True)])
def test_how_far_the_read_noise_must_drop(drop: float, *, step: bool) -> None:
    found = figures(row(500, 20_000, 6.0), row(600, 19_000, 6.0 / 2**drop))
    assert found[600].gain_step is step


@pytest.mark.parametrize(("share", "vain"), [(0.9, False), (0.96, True)])
def test_from_where_on_more_iso_is_in_vain(share: float, *, vain: bool) -> None:
    found = figures(row(100, 50_000, 3.0), row(200, 25_000, 3.0 * share))
    assert found[100].more_in_vain is vain


def test_earlier_shoots_tell_the_isos_that_this_one_does_not() -> None:
    earlier = (row(100, 50_000, 3.0), row(125, 30_000, 3.0), replace(row(100, 9.0, 1.0), body="X"))
    found = figures(row(125, None, 3.1), earlier=earlier)
    assert found[100].frames == 0
    assert found[125].frames == 4
    assert found[125].full_well_loss_stops == pytest.approx(math.log2(50 / 37.5), abs=0.01)
    assert figures(row(125, None, 3.1))[125].range_stops is None


def test_the_channel_that_loses_most_counts() -> None:
    found = figures(
        row(100, 50_000, 3.0), row(200, 25_000, 3.0),
        row(100, 50_000, 3.0, "R"), row(200, 20_000, 3.5, "R"),
    )  # fmt: skip
    assert found[200].full_well_e == 20_000
    assert found[200].read_noise_e == 3.5
    assert found[200].full_well_loss_stops == pytest.approx(math.log2(1.25), abs=0.01)


def frame(name: str, verdict: str, iso: float) -> FrameResult:
    return FrameResult(
        id=name, input=0, file=name, status=FrameStatus.MEASURED, error=None,
        camera=CameraFacts(None, BODY), lens=LensFacts("L", 24.0), orientation=1,
        captured_at=None, exposure=ExposureFacts(0.1, TimeSource.APEX, 0.1, 8.0, iso),
        verdict=Verdict(verdict),
    )  # fmt: skip


def told(
    verdict: str, iso: float, isos: Mapping[float, IsoFigures], grouping: Grouping | None = None
) -> list[str]:
    view = ShootView({"A": frame("A", verdict, iso)}, grouping or Grouping(), Settings(),
                     tuple(isos.values()))  # fmt: skip
    return [with_words(found).text for _, found in find_iso_costs(view)]


def test_it_is_told_only_where_it_cost_something() -> None:
    isos = figures(
        row(100, 50_000, 3.0), row(125, 50_000 / 1.25 / 2**0.25, 3.0), row(400, 12_500, 3.0)
    )
    early = "ISO 125 of this body clips 0.25 stop earlier than the next lower full stop would."
    assert told("blown", 125, isos) == [early]
    assert told("both", 400, isos)[0].startswith("Both ends lost at ISO 400, where this body's")
    assert not told("held", 125, isos)
    assert not told("blown", 400, isos)
    assert not told("blocked", 125, isos)
    bracket = Bracket("S1", ("A",), 1.0, 1.0, {}, (), ())
    assert not told("blown", 125, isos, Grouping(brackets=(bracket,)))


@pytest.mark.parametrize(("lost", "wanted"), [(0.12, False), (0.18, True)])
def test_how_much_full_well_is_worth_a_word(lost: float, *, wanted: bool) -> None:
    isos = figures(row(100, 50_000, 3.0), row(125, 40_000 / 2**lost, 3.0))
    assert bool(told("blown", 125, isos)) is wanted


@pytest.mark.parametrize(("lost", "wanted"), [(0.28, False), (0.38, True)])
def test_how_much_range_is_worth_a_word(lost: float, *, wanted: bool) -> None:
    isos = figures(row(100, 50_000, 3.0), row(125, 50_000 / 2**lost, 3.0))
    assert bool(told("both", 125, isos)) is wanted


def test_the_sentences() -> None:
    isos = iso_figures(
        (row(100, 50_000, 3.0), row(125, 50_000 / 1.25 / 2**0.25, 3.0), row(200, 25_000, 2.9))
    )
    assert iso_lines(isos) == [
        "Brackwell F45, ISO 100: range 13.8 stops; full well 50,000 electrons; read noise 3.0 "
        "electrons.",
        "Brackwell F45, ISO 125: range 13.2 stops; full well 33,636 electrons; read noise 3.0 "
        "electrons; 0.6 stop less range than its best ISO; clips 0.25 stop earlier than the full "
        "stop below it would.",
        "Brackwell F45, ISO 200: range 12.8 stops; full well 25,000 electrons; read noise 2.9 "
        "electrons; 1.0 stop less range than its best ISO.",
        "Brackwell F45: from ISO 100 on more ISO reads no quieter; brightening afterwards does as "
        "much and clips nothing.",
    ]
