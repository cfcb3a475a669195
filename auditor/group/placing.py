"""The shifts of a set-up told on patches of single pixels, where enough of them agree.

Tiles place a frame to a twentieth of a tile, three pixels and more; that says where to look.
"""

from __future__ import annotations

import math

from auditor.group.limits import MOVED_ERRORS
from auditor.group.patch_shift import PatchImage, patch_shift
from auditor.group.setups import SetupShots
from auditor.group.tile_image import TileImage
from auditor.model.orientation import turns_of


def place_by_patches(setup: SetupShots) -> None:
    """Tell each shift against the first frame, or the latest one so placed; else let it stand.

    Patches are unpacked here, of one set-up at a time, and of none that is a single frame.
    """
    if len(setup.shots) < 2:
        return
    placed: dict[int, PatchImage] = {}
    for index, shot in enumerate(setup.shots):
        shift, own = setup.shifts[index], _unpacked(shot.image)
        if own is None or shift is None:
            continue
        tile_px, orientation = shot.image.tile_px, shot.image.orientation
        for base in dict.fromkeys((min(placed), max(placed))) if placed else ():
            start = setup.placed(base)
            rough = (shift[0] - start[0]) * tile_px, (shift[1] - start[1]) * tile_px
            rough_error_px = math.hypot(setup.errors[index], setup.errors[base]) * tile_px
            right, down = on_sensor(rough, orientation)
            reach_px = MOVED_ERRORS * rough_error_px
            found = patch_shift(placed[base], own, (down, right), reach_px)
            error_px = math.inf if found is None else found.error_px
            if found is not None and error_px < rough_error_px:
                right, down = upright_step((found.right_px, found.down_px), orientation)
                setup.shifts[index] = start[0] + right / tile_px, start[1] + down / tile_px
                setup.errors[index] = math.hypot(setup.errors[base], error_px / tile_px)
                setup.by_patches.add(index)
                break
        if index == 0 or index in setup.by_patches:
            placed[index] = own
        if len(placed) > 2:  # the first one and the latest
            del placed[sorted(placed)[1]]


def _unpacked(image: TileImage) -> PatchImage | None:
    """Return the patches of a frame; None where there are none, or they cannot be read."""
    patches = image.pixels.whole.patches
    if patches is None or not patches.places:
        return None
    size = image.height_px, image.width_px
    aside = turns_of(image.orientation)[0] % 2 == 1
    height, width = size[::-1] if aside else size
    try:
        return PatchImage(patches, (height / 2.0, width / 2.0))
    except ValueError:
        return None


def upright_step(step: tuple[float, float], orientation: int) -> tuple[float, float]:
    """Turn a step (right, down) on the sensor upright."""
    right, down = step
    turns, mirrored = turns_of(orientation)
    for _ in range(turns):
        right, down = down, -right
    return (-right if mirrored else right), down


def on_sensor(step: tuple[float, float], orientation: int) -> tuple[float, float]:
    """Turn an upright step (right, down) back to how it lies on the sensor."""
    turns, mirrored = turns_of(orientation)
    right, down = (-step[0] if mirrored else step[0]), step[1]
    for _ in range(turns):
        right, down = -down, right
    return right, down
