"""What pages and pictures draw is what was judged, frame by frame of the sample evening."""

from __future__ import annotations

import pytest

from auditor.clipping.maps import patch_of
from auditor.model.codes import FrameStatus
from auditor.model.facts import CardFindings
from auditor.model.settings import MeasureSettings
from auditor.read.card import find_files
from auditor.read.content import read_content
from auditor.report.page_pictures import frame_pictures
from auditor.store.store import Store
from tests.evening_audit import Evening


@pytest.fixture(scope="module")
def found(evening: Evening) -> CardFindings:
    return find_files(evening.cards)


def test_every_drawn_map_is_the_judged_one(evening: Evening, found: CardFindings) -> None:
    drawn, lost = 0, 0
    with Store.open(evening.store) as store:
        keys = {file.id: read_content(file.path).digest for file in found.files}
        measurements = store.measurement_source(keys, MeasureSettings())
        for frame in evening.end.audit.frames:
            pictures = frame_pictures(frame, measurements)
            if pictures is None:
                assert frame.status == FrameStatus.UNREADABLE
                continue
            maps = pictures.maps
            least = max(channel.blown_fraction for channel in frame.channels)
            assert frame.blown_fraction == pytest.approx(max(maps.blown_fraction, least))
            assert frame.blocked_fraction == maps.blocked_fraction
            assert frame.largest_blown_area == patch_of(maps.any_blown, maps.weight)
            assert not (maps.lost & maps.specks).any()
            assert ((maps.lost | maps.specks) == (maps.any_blown > 0)).all()
            drawn, lost = drawn + 1, lost + int(maps.lost.any())
    assert drawn >= 40
    assert lost >= 10
