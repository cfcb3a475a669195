"""Images of many frames lie in a file meanwhile, and nothing else changes by that."""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace
from typing import NoReturn

import pytest

from auditor.files import spool
from auditor.files.spool import Spool
from auditor.group.grouping import group_shoot
from auditor.group.tile_image import TileImage, TilePixels, tile_image
from auditor.model.settings import GroupSettings
from tests.shoot_maker import Shoot
from tests.shoot_plans import SIX, coast


@pytest.fixture(scope="module")
def shoot() -> Shoot:
    made, place = Shoot(3), coast(3)
    for number in range(4):
        made.take(place, 60.0 * number)
        made.take(place, 60.0 * number + 20.0, 16.0, nd=SIX)
    return made


@pytest.fixture(scope="module")
def images(shoot: Shoot) -> dict[str, TileImage]:
    return {frame.id: tile_image(frame) for frame in shoot.frames}


def laid_image(image: TileImage, lying: Spool[TilePixels]) -> TileImage:
    laid = lying.lay(image.pixels.whole)
    assert laid is not None
    return replace(image, pixels=laid)


def test_grouping_by_images_in_a_file_tells_the_same(
    shoot: Shoot, images: dict[str, TileImage], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(spool, "AT_HAND", 2)
    plain = group_shoot(shoot.frames, GroupSettings(), (), images)
    assert len(plain.siblings) == 4
    lying: Spool[TilePixels] = Spool()
    with closing(lying):
        laid = {name: laid_image(image, lying) for name, image in images.items()}
        assert group_shoot(shoot.frames, GroupSettings(), (), laid) == plain


def test_where_no_file_can_be_written_nothing_is_laid(monkeypatch: pytest.MonkeyPatch) -> None:
    def full() -> NoReturn:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("tempfile.TemporaryFile", full)
    assert Spool[str]().lay("an image") is None
