"""Previews as cameras make them: right within a tenth of a stop, or null."""

from __future__ import annotations

import io
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from auditor.model.measurement import PreviewMeasurement
from tests.built_mosaics import measured_coast
from tests.told import said
from tests.unit.test_preview_measure import SIZE, STYLE, early_stops, measured_preview, picture

Codes = NDArray[np.uint8]
Floats = NDArray[np.float64]


def found(change: Callable[[Floats], Floats]) -> PreviewMeasurement:
    """The preview of the coast, changed on a scale from 0 to 1."""
    codes = np.rint(255.0 * change(picture("RGGB") / 255.0).clip(0.0, 1.0)).astype(np.uint8)
    return measured_preview(np.ascontiguousarray(codes), measured_coast("RGGB", **SIZE))


def errors(told: PreviewMeasurement) -> dict[str, float]:
    wanted = STYLE.early_stops_by_channel()
    return {name: stops - wanted[name] for name, stops in early_stops("RGGB", told).items()}


def sharpened(shown: Floats) -> Floats:
    soft: Floats = ndimage.gaussian_filter(shown, (2, 2, 0))
    return shown + 1.5 * (shown - soft)


def packed_hard(shown: Floats) -> Floats:
    held = io.BytesIO()
    Image.fromarray(np.rint(255 * shown).astype(np.uint8)).save(held, "JPEG", quality=15)
    with Image.open(held) as opened:
        return np.asarray(opened) / 255.0


def straightened(shown: Floats) -> Floats:
    """A barrel taken out, by four percent in the corners."""
    high, wide = shown.shape[:2]
    down, across = np.mgrid[:high, :wide].astype(np.float64)
    y, x = (down - high / 2) / high, (across - wide / 2) / high
    at = 1.0 - 0.08 * (y**2 + x**2)
    places = [high / 2 + y * at * high, wide / 2 + x * at * high]
    planes = (ndimage.map_coordinates(plane, places, order=1) for plane in np.moveaxis(shown, 2, 0))
    return np.stack(list(planes), axis=-1)


def enlarged(shown: Floats, zoom: float) -> Floats:
    high, wide = shown.shape[:2]
    rows, cols = ((np.arange(n) + 0.5 - n / 2) / zoom + n / 2 for n in (high, wide))
    return shown[np.ix_(rows.astype(int), cols.astype(int))]


def grey(shown: Floats) -> Floats:
    return np.repeat((shown @ [0.3, 0.59, 0.11])[..., None], 3, axis=2)


def stamped(shown: Floats) -> Floats:
    shown = shown.copy()
    shown[20:60, 20:300] = 1.0
    return shown


def toned_by_place(shown: Floats) -> Floats:
    around: Floats = ndimage.gaussian_filter(shown.mean(axis=2), 40)
    return shown * ((0.5 / (around + 0.1)) ** 0.4)[..., None]


@pytest.mark.parametrize(
    "change",
    [
        sharpened,
        packed_hard,
        straightened,
        lambda shown: np.roll(shown, 18, axis=1),
        lambda shown: np.roll(shown, 10, axis=0),
        np.sqrt,
        lambda shown: enlarged(shown, 1.02),
    ],
    ids=["sharpened", "packed", "straightened", "3 % aside", "2 % down", "brighter curve", "2 %"],
)
def test_what_cameras_do_to_previews_changes_little(change: Callable[[Floats], Floats]) -> None:
    told = errors(found(change))
    assert set(told) == {"R", "G", "B"}
    assert max(map(abs, told.values())) <= 0.12


@pytest.mark.parametrize(
    "change",
    [
        lambda shown: np.minimum(shown, 245 / 255),
        lambda shown: 1.0 / (1.0 + np.exp(-10.0 * (shown - 0.5))),
        toned_by_place,
        stamped,
        lambda shown: shown[::-1, ::-1],
        lambda shown: enlarged(shown, 1.3),
        lambda shown: enlarged(shown, 2.0),
    ],
    ids=["never white", "film", "toned by place", "a date", "turned", "its middle", "its centre"],
)
def test_what_shows_no_level_tells_none(change: Callable[[Floats], Floats]) -> None:
    assert found(change).clip_signal_dn == {}


def test_a_preview_in_black_and_white_tells_no_colour() -> None:
    told = found(grey)
    assert told.clip_signal_dn == told.block_signal_dn == {}
    assert "black and white" in said(told.remarks)
    assert told.blown_share > 0


def test_the_middle_in_the_same_shape_is_not_told_from_the_whole() -> None:
    """Enlarged by a tenth it clips up to a quarter of a stop elsewhere than it seems to."""
    told = errors(found(lambda shown: enlarged(shown, 1.1)))
    assert 0.1 < max(map(abs, told.values())) < 0.25
