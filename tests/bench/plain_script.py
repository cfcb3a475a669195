"""The script that one would write instead: a histogram of each channel, printed and drawn."""

from __future__ import annotations

import sys
from pathlib import Path

import matplotlib
import numpy as np
import rawpy

matplotlib.use("Agg")
import matplotlib.pyplot as plt


def main(paths: list[str], out: str) -> None:
    for path in paths:
        with rawpy.imread(path) as raw:
            pixels, colors = raw.raw_image_visible, raw.raw_colors_visible
            white = raw.white_level
            plt.figure(figsize=(8, 5))
            for index, name in enumerate(("R", "G1", "B", "G2")):
                black = raw.black_level_per_channel[index]
                signal = pixels[colors == index].astype(np.float64) - black
                counts, edges = np.histogram(signal, bins=1024, range=(0, white - black))
                blown, blocked = (signal >= white - black).mean(), (signal <= 0).mean()
                bright, dark = np.percentile(signal, (99.99, 1))
                headroom = np.log2((white - black) / bright) if bright > 0 else float("nan")
                print(f"{path} {name}: blown {blown:.2%}, blocked {blocked:.2%}")
                print(f"    headroom {headroom:.2f} stops, dark end {dark:.0f} DN")
                plt.step(edges[:-1], counts, label=name)
            plt.yscale("log")
            plt.legend()
            plt.savefig(Path(out) / f"{Path(path).stem}.png")
            plt.close()


if __name__ == "__main__":
    main(sys.argv[2:], sys.argv[1])
