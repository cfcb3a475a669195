"""Pictures and lost areas of one frame."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from auditor.model.arrays import Bool
from auditor.model.audit import Audit
from auditor.report.page_pictures import FramePictures, frame_pictures
from tests.builders import DictMeasurementSource, make_audit


@pytest.fixture(scope="module")
def made() -> tuple[Audit, DictMeasurementSource]:
    return make_audit()


def pictures(made: tuple[Audit, DictMeasurementSource], name: str) -> FramePictures:
    found = frame_pictures(made[0].frame(f"100SELMR/{name}.dng"), made[1])
    assert found is not None
    return found


def drawn(found: FramePictures) -> Bool:
    """Tiles in which something blown is drawn, areas and specks alike."""
    blown: Bool = found.lost.areas | found.lost.specks
    return blown


def test_blown_tiles_cover_about_the_blown_share(made: tuple[Audit, DictMeasurementSource]) -> None:
    share = made[0].frame("100SELMR/S0022.dng").blown_fraction
    assert float(drawn(pictures(made, "S0022")).mean()) == pytest.approx(share, abs=0.02)


def test_a_dark_frame_is_blocked_all_over(made: tuple[Audit, DictMeasurementSource]) -> None:
    blocked = pictures(made, "S0019").lost.blocked
    assert blocked is not None
    assert blocked.all()


def test_maps_of_a_turned_frame_are_upright(made: tuple[Audit, DictMeasurementSource]) -> None:
    found = pictures(made, "S0011")
    assert (found.height, found.width) == (360, 240)
    assert drawn(found).shape == (90, 60)
    rows, _ = np.nonzero(drawn(found))
    assert rows.max() < 45, "the glow of the sky lies in the upper half"


def test_a_lower_settled_level_marks_the_tiles_that_reach_it(
    made: tuple[Audit, DictMeasurementSource],
) -> None:
    frame = made[0].frame("100SELMR/S0014.dng")
    assert not drawn(pictures(made, "S0014")).any()
    lower = tuple(replace(c, blown_from_dn=5000.0, blown_fraction=0.02) for c in frame.channels)
    found = frame_pictures(replace(frame, channels=lower), made[1])
    assert found is not None
    assert 0 < drawn(found).mean() < 0.2


def test_an_unknown_floor_leaves_the_blocked_map_unknown(
    made: tuple[Audit, DictMeasurementSource],
) -> None:
    frame = made[0].frame("100SELMR/S0021.dng")
    no_floor = (replace(frame.channels[0], gain_dn_per_e=None), *frame.channels[1:])
    found = frame_pictures(replace(frame, channels=no_floor), made[1])
    assert found is not None
    assert found.lost.blocked is None


def test_the_unreadable_have_no_pictures(made: tuple[Audit, DictMeasurementSource]) -> None:
    assert frame_pictures(made[0].frame("100SELMR/S0024.dng"), made[1]) is None


def test_a_tile_of_one_colour_is_drawn_as_lost_from_half_of_it_on(
    made: tuple[Audit, DictMeasurementSource],
) -> None:
    found = pictures(made, "S0022")
    shares = np.array([[[0.0, 0.4, 0.6]], [[0.0, 0.0, 0.1]]], np.float32)
    drawn_of = replace(found, maps=replace(found.maps, planes=shares), colours=("R", "G"))
    for colour, areas, points in (
        ("R", [False, False, True], [False, True, False]),
        ("G", [False, False, False], [False, False, True]),
    ):
        lost = drawn_of.lost_in(colour)
        assert (lost.areas.tolist(), lost.specks.tolist()) == ([areas], [points])
