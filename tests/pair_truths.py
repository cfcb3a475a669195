"""Simulated pairs with their truth: how far off, how sure, how often right when sure.

``python -m tests.pair_truths`` writes the table of ``auditor/docs/truth.md`` on filters and its
picture, ``confidence.svg``.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np

from auditor.files.atomic import write_bytes
from auditor.group.grouping import group_shoot
from auditor.group.shots import closing_stamps
from auditor.model.settings import GroupSettings
from auditor.model.shoot import ShootFrame
from tests.docs_text import ROOT
from tests.pair_effects import EFFECTS

DOCS = ROOT / "auditor" / "docs"
PICTURE, PAGE = DOCS / "confidence.svg", DOCS / "truth.md"
BEGIN, END = "<!-- filters: begin -->", "<!-- filters: end -->"
WITHIN_STOPS, WITHIN_CAST_STOPS = 0.1, 0.05
SEEDS = range(3)
"""Of the shoots by which the limits of confidence were fitted."""

OTHER_SEEDS = range(7400, 7402)
"""Of shoots that nothing was fitted by."""

SURE, SURE_END = "<!-- sure and wrong: begin -->", "<!-- sure and wrong: end -->"
SURE_FROM = 0.8
CHANCES, CHANCES_END = "<!-- chances: begin -->", "<!-- chances: end -->"
BINS = (0.0, 0.3, 0.5, 0.7, 0.9, 1.0001)


@dataclass(frozen=True, slots=True)
class Told:
    """One simulated pair: what was measured and what is true."""

    effect: str
    off_stops: float
    off_cast_stops: float
    confidence: float

    @property
    def right(self) -> bool:
        """Whether the figure lies within the tolerance."""
        return abs(self.off_stops) <= WITHIN_STOPS


@cache
def measured(seeds: range = SEEDS) -> tuple[Told, ...]:
    """Measure every simulated pair."""
    return tuple(_measured(seeds))


def _measured(seeds: range) -> Iterator[Told]:
    for effect, (nd, take) in EFFECTS.items():
        for seed in seeds:
            for pair in group_shoot(_settled(take(seed).frames), GroupSettings()).siblings:
                casts = zip(("R", "B"), (nd[0] - nd[1], nd[2] - nd[1]), strict=True)
                told = [(pair.cast_stops.get(name), cast) for name, cast in casts]
                off = max((abs(one - cast) for one, cast in told if one is not None), default=0.0)
                yield Told(effect, pair.filter_stops - nd[1], off, pair.confidence)


def _settled(frames: list[ShootFrame]) -> list[ShootFrame]:
    """Tell which frames bear the time of their end, as an audit does before it groups them."""
    facts = {frame.id: frame.facts for frame in frames}
    late = closing_stamps([frame.source for frame in frames], facts)
    told = {name: replace(facts[name].exposure, stamp_at_end=name in late) for name in facts}
    return [replace(f, facts=replace(f.facts, exposure=told[f.id])) for f in frames]


def silent(seeds: range = SEEDS) -> set[str]:
    """Return the effects of which a filtered frame went without a figure."""
    told = Counter(one.effect for one in measured(seeds))
    return {name for name, (nd, _) in EFFECTS.items() if any(nd) and told[name] < len(seeds)}


def reliability(seeds: range = SEEDS) -> list[tuple[float, float, int]]:
    """Return (mean stated confidence, share found right, pairs) of each bin that holds any."""
    rows = []
    for low, high in pairwise(BINS):
        inside = [told for told in measured(seeds) if low <= told.confidence < high]
        if inside:
            stated = float(np.mean([told.confidence for told in inside]))
            rows.append((stated, float(np.mean([told.right for told in inside])), len(inside)))
    return rows


def table() -> str:
    """The table of the documentation, one effect a row."""
    by_effect: dict[str, list[Told]] = defaultdict(list)
    for told in measured():
        by_effect[told.effect].append(told)
    head = ("effect", "truth, stops", "pairs in shoots", "largest error",
            "largest error of the cast", "within 0.1 stop", "stated confidence")  # fmt: skip
    lines = [f"| {' | '.join(head)} |", f"| {' | '.join(['---'] * len(head))} |"]
    for effect, (nd, _) in EFFECTS.items():
        rows = by_effect[effect]
        shoots = len(SEEDS)
        off = max((abs(told.off_stops) for told in rows), default=float("nan"))
        cast = max((told.off_cast_stops for told in rows), default=float("nan"))
        right = sum(told.right for told in rows)
        sure = [told.confidence for told in rows]
        lines.append(
            f"| {effect} | {nd[1]:.2f} | {len(rows)} in {shoots} | {off:.2f} | {cast:.2f} | "
            f"{right} | {min(sure):.2f} to {max(sure):.2f} |"
        )
    return "\n".join(lines)


def chances() -> str:
    """The table of stated against found, on the shoots fitted by and on others."""
    lines = ["| pairs | stated | found within 0.1 stop | of |", "| --- | --- | --- | --- |"]
    for name, seeds in (("fitted by", SEEDS), ("others", OTHER_SEEDS)):
        for stated, found, count in reliability(seeds):
            lines.append(f"| {name} | {stated:.2f} | {found:.2f} | {count} |")
    return "\n".join(lines)


def sure_and_wrong() -> str:
    """The table of pairs that were called sure and lie outside of the tolerance."""
    lines = ["| pairs | effect | stated confidence | off, stops |", "| --- | --- | --- | --- |"]
    for name, seeds in (("fitted by", SEEDS), ("others", OTHER_SEEDS)):
        wrong = [t for t in measured(seeds) if t.confidence >= SURE_FROM and not t.right]
        rows = [f"| {name} | {t.effect} | {t.confidence:.2f} | {t.off_stops:+.2f} |" for t in wrong]
        lines += rows or [f"| {name} | none | | |"]
    return "\n".join(lines)


def draw(path: Path) -> None:
    """Draw what was stated against what was found."""
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    with rc_context({"svg.hashsalt": "confidence", "svg.fonttype": "none"}):
        figure = Figure(figsize=(5.2, 4.6), layout="constrained")
        axes = figure.add_subplot()
        axes.plot([0, 1], [0, 1], color="0.6", linewidth=1, label="stated is found")
        for seeds, mark, shade, name, aside in (
            (SEEDS, "s:", "0.55", "pairs fitted by", -14),
            (OTHER_SEEDS, "o-", "0.1", "other pairs", 8),
        ):
            rows = reliability(seeds)
            axes.plot([row[0] for row in rows], [row[1] for row in rows], mark, color=shade,
                      label=name)  # fmt: skip
            for stated, found, count in rows:
                axes.annotate(f"{count}", (stated, found), (-6, aside), color=shade, ha="right",
                              textcoords="offset points", fontsize=8)  # fmt: skip
        axes.set(xlabel="stated confidence", ylabel="share within 0.1 stop of the truth",
                 xlim=(0, 1.03), ylim=(0, 1.08))  # fmt: skip
        axes.legend(frameon=False, loc="upper left", fontsize=8)
        figure.savefig(path, format="svg", metadata={"Date": None})


def main() -> None:
    """Write table and picture."""
    text = PAGE.read_text(encoding="utf-8")
    for begin, end, made in (
        (BEGIN, END, table()),
        (CHANCES, CHANCES_END, chances()),
        (SURE, SURE_END, sure_and_wrong()),
    ):
        before, after = text.partition(begin)[0], text.partition(end)[2]
        text = f"{before}{begin}\n{made}\n{end}{after}"
    write_bytes(PAGE, text.encode())
    draw(PICTURE)
    print(chances())


if __name__ == "__main__":
    main()
