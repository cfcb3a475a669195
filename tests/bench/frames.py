"""The frames that the benches run on, made once and kept."""

from __future__ import annotations

import shutil
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

from sample_generation.dng import DngOptions, dng_bytes
from sample_generation.evening import evening
from sample_generation.frames import expose_shot, facts_of
from sample_generation.shoots import SHOOTS, make_shoot

SEED = 7
WITH_DIGEST = 5
SMALL_MEGAPIXELS = 0.3
"""Maps and records of a small frame are as large as those of a large one; decoding is not."""


@dataclass(frozen=True)
class _Order:
    index: int
    megapixels: float
    path: Path
    digests: bool


def large_card(folder: Path, megapixels: float, count: int) -> list[Path]:
    """Return so many whole frames of the sample evening at that size, spread over it.

    With no digest of the pixels, as cameras write them.
    """
    shots = enumerate(evening(SEED).shots)
    whole = [index for index, shot in shots if "cut off" not in shot.kinds]
    some = whole[:: max(1, len(whole) // count)][:count]
    return _made([_order(folder, megapixels, index) for index in some])


def _order(folder: Path, megapixels: float, index: int) -> _Order:
    return _Order(index, megapixels, folder / f"{megapixels:g}mp-{index:02d}.DNG", digests=False)


def frame_with_digest(folder: Path, megapixels: float) -> Path:
    """Return one of the large frames with a digest of its pixels, as converters write."""
    path = folder / f"{megapixels:g}mp-{WITH_DIGEST:02d}-digest.DNG"
    return _made([_Order(WITH_DIGEST, megapixels, path, digests=True)])[0]


def season(folder: Path) -> list[Path]:
    """Return the cards of one small evening and every other small shoot that can be made."""
    cards = []
    for name in SHOOTS:
        shoot = folder / "season" / name
        if not (shoot / "truth.json").exists():
            shutil.rmtree(shoot, ignore_errors=True)
            make_shoot(name, shoot, megapixels=SMALL_MEGAPIXELS, seed=SEED)
        cards += sorted(path for path in shoot.iterdir() if path.is_dir())
    return cards


def thousand(folder: Path, frames: int = 1000) -> list[Path]:
    """Return cards with so many frames: the season's, again and again, none a copy of another."""
    sources = [path for card in season(folder) for path in sorted(card.rglob("*.DNG"))]
    target = folder / "thousand"
    for number in range(frames):
        source = sources[number % len(sources)]
        path = target / f"card{number // len(sources)}" / f"{source.stem}_{number:04d}.DNG"
        if not path.exists():
            path.parent.mkdir(parents=True, exist_ok=True)
            part = path.with_suffix(".part")
            part.write_bytes(source.read_bytes() + number.to_bytes(4, "little"))
            part.rename(path)
    return sorted(target.iterdir())


def _made(orders: list[_Order]) -> list[Path]:
    missing = [order for order in orders if not order.path.exists()]
    if missing:
        missing[0].path.parent.mkdir(parents=True, exist_ok=True)
        with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
            list(pool.map(_make, missing))
    return [order.path for order in orders]


def _make(order: _Order) -> None:
    shot = evening(SEED).shots[order.index]
    exposure = expose_shot(shot, order.megapixels)
    options = DngOptions(digests=order.digests)
    content = dng_bytes(exposure, facts_of(shot), style=shot.body.style, options=options)
    part = order.path.with_suffix(".part")
    part.write_bytes(content)
    part.rename(order.path)
