"""Make a shoot: ``python -m sample_generation OUT [--shoot evening] [--megapixels 6]``."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from sample_generation.shoots import SHOOTS, make_shoot


def main() -> None:
    """Read the command line and make the shoot."""
    wanted = _arguments()
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
    parser.add_argument("--megapixels", type=float, default=6.0)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--workers", type=int, default=None, help="processes (default: all cores)")
    return parser.parse_args()


if __name__ == "__main__":
    main()
