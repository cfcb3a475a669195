"""The shifts of a set-up told on patches of single pixels, where enough of them agree.

Tiles place a frame to a twentieth of a tile, three pixels and more; that says where to look.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from auditor.group.limits import MOVED_ERRORS
from auditor.group.patch_shift import PatchImage, patch_shift
from auditor.group.setups import SetupShots
from auditor.group.tile_image import TileImage
from auditor.model.orientation import turns_of

GROUPS = 3
"""Of so many groups of frames, the largest ones, more are looked for."""


@dataclass(slots=True)
class _Group:
    """Frames placed against one another by their patches.

    Parameters
    ----------
    images : dict of int to PatchImage
        Of the frame that it began with, and of the latest one.
    at : dict of int to (right, down)
        Tiles by which each picture lies to the right and lower than the one it began with.
    errors : dict of int to float
        Standard error of each, tiles.
    """

    images: dict[int, PatchImage]
    at: dict[int, tuple[float, float]]
    errors: dict[int, float]

    @classmethod
    def of(cls, index: int, own: PatchImage) -> _Group:
        """Begin with one frame."""
        return cls({index: own}, {index: (0.0, 0.0)}, {index: 0.0})

    @property
    def began(self) -> int:
        """The frame that all the others are placed against."""
        return min(self.at)


def place_by_patches(setup: SetupShots) -> None:
    """Tell shifts by patches where enough of their places agree; else let what the tiles say stand.

    Each frame is held against the first, or the latest one so placed. Where more frames agree with
    another than with the first, as when the first is blown all over, that one takes its place.

    Patches are unpacked here, of one set-up at a time, and of none that is a single frame.
    """
    if len(setup.shots) < 2:
        return
    groups: list[_Group] = []
    for index, shot in enumerate(setup.shots):
        own = None if setup.shifts[index] is None else _unpacked(shot.image)
        if own is None:
            continue
        groups.sort(key=_weight, reverse=True)
        if not any(_joins(setup, group, index, own) for group in groups):
            del groups[GROUPS - 1 :]
            groups.append(_Group.of(index, own))
    largest = max(groups, key=_weight, default=None)
    if largest is not None and len(largest.at) > 1:
        _take_over(setup, largest)


def _weight(group: _Group) -> tuple[int, int]:
    """Most frames come first, and of equal ones what began earlier."""
    return len(group.at), -group.began


def _joins(setup: SetupShots, group: _Group, index: int, own: PatchImage) -> bool:
    """Take a frame into a group if it can be placed against the first or the latest one there."""
    shift, first = setup.placed(index), setup.placed(group.began)
    tile_px, orientation = (image := setup.shots[index].image).tile_px, image.orientation
    for base in group.images:
        start = group.at[base]
        rough = [tile_px * (shift[n] - first[n] - start[n]) for n in (0, 1)]
        rough_error_px = tile_px * math.hypot(
            setup.errors[index], setup.errors[group.began], group.errors[base]
        )
        right, down = on_sensor((rough[0], rough[1]), orientation)
        reach_px = MOVED_ERRORS * rough_error_px
        found = patch_shift(group.images[base], own, (down, right), reach_px)
        if found is not None and found.error_px < rough_error_px:
            right, down = upright_step((found.right_px, found.down_px), orientation)
            group.at[index] = start[0] + right / tile_px, start[1] + down / tile_px
            group.errors[index] = math.hypot(group.errors[base], found.error_px / tile_px)
            group.images = {group.began: group.images[group.began], index: own}
            return True
    return False


def _take_over(setup: SetupShots, group: _Group) -> None:
    """Tell the shifts of a set-up against the frame that a group began with."""
    # what the tiles tell of all others is turned over where they are surest
    sure = min(group.at, key=lambda index: math.hypot(setup.errors[index], group.errors[index]))
    at, was = group.at[sure], setup.placed(sure)
    unsure = math.hypot(setup.errors[sure], group.errors[sure])
    for index, shift in enumerate(setup.shifts):
        if index in group.at:
            setup.shifts[index], setup.errors[index] = group.at[index], group.errors[index]
        elif shift is not None and group.began > 0:
            setup.shifts[index] = shift[0] + at[0] - was[0], shift[1] + at[1] - was[1]
            setup.errors[index] = math.hypot(setup.errors[index], unsure)
    setup.reference = group.began
    setup.by_patches |= group.at.keys() - {group.began}


def _unpacked(image: TileImage) -> PatchImage | None:
    """Return the patches of a frame; None where there are none, or they cannot be read."""
    patches = image.pixels.whole.patches
    if patches is None or len(patches.places) < 3:  # two lie in a line, and tell no shift
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
