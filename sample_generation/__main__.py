"""Make a shoot: ``python -m sample_generation OUT [--shoot evening] [--megapixels 6]``."""

from __future__ import annotations

import argparse
import math
import sys
import time
from collections.abc import Callable
from pathlib import Path

from sample_generation.shoots import SHOOTS, make_shoot

MOST_MEGAPIXELS = 200.0
"""Above the largest sensors sold, and as much as a process can be asked to hold."""


def main() -> None:
    """Read the command line and make the shoot."""
    wanted = _arguments()
    try:
        _make(wanted)
    except OSError as error:
        place = error.filename or wanted.out
        sys.exit(f"{place}: cannot be written ({error.strerror}). Name another folder.")


def _make(wanted: argparse.Namespace) -> None:
    began = time.perf_counter()
    live = sys.stderr.isatty()

    def tell(done: int, total: int) -> None:
        seconds = time.perf_counter() - began
        line = f"{done} of {total} frames, {done / seconds:.1f} a second"
        print(line, end="\r" if live and done < total else "\n", file=sys.stderr, flush=True)

    truth = make_shoot(
        wanted.shoot,
        wanted.out,
        megapixels=wanted.megapixels,
        seed=wanted.seed,
        workers=wanted.workers,
        progress=tell,
    )
    print(f"{len(truth.frames)} frames of the shoot {truth.shoot!r} in {wanted.out}")


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m sample_generation",
        description="Make an invented shoot: DNG files on cards, and truth.json beside them.",
    )
    parser.add_argument("out", type=Path, help="folder for the cards")
    parser.add_argument("--shoot", choices=sorted(SHOOTS), default="evening")
    parser.add_argument("--megapixels", type=_megapixels, default=6.0)
    parser.add_argument("--seed", type=_whole_from(0), default=7)
    parser.add_argument(
        "--workers", type=_whole_from(1), default=None, help="processes (default: all cores)"
    )
    return parser.parse_args()


def _megapixels(text: str) -> float:
    value = float(text)
    if not (math.isfinite(value) and 0.0 < value <= MOST_MEGAPIXELS):
        raise argparse.ArgumentTypeError(f"more than 0, at most {MOST_MEGAPIXELS:g}; not {text}")
    return value


def _whole_from(least: int) -> Callable[[str], int]:
    def whole(text: str) -> int:
        value = int(text)
        if value < least:
            raise argparse.ArgumentTypeError(f"a whole number from {least}; not {text}")
        return value

    whole.__name__ = "whole number"  # argparse names it where the text is no number at all
    return whole


if __name__ == "__main__":
    main()
