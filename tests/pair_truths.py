"""Simulated pairs with their truth: how far off, how sure, how often right when sure.

``python -m tests.pair_truths`` writes the table of ``auditor/docs/truth.md`` on filters and its
picture, ``confidence.svg``.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from auditor.files.atomic import write_bytes
from auditor.group.grouping import group_shoot
from auditor.group.shots import closing_stamps
from auditor.model.settings import GroupSettings
from auditor.model.shoot import ShootFrame
from tests.before_the_lens import (
    boat,
    corners,
    cross,
    flare,
    fog,
    leak,
    patch,
    polarised,
    shadow,
)
from tests.docs_text import ROOT
from tests.shoot_maker import GradGlass, Shoot
from tests.shoot_plans import SIX, TEN, Colours, by_colour, coast, partly_lost, stacked
from tests.shoot_scene import Scene

DOCS = ROOT / "auditor" / "docs"
PICTURE, PAGE = DOCS / "confidence.svg", DOCS / "truth.md"
BEGIN, END = "<!-- filters: begin -->", "<!-- filters: end -->"
WITHIN_STOPS, WITHIN_CAST_STOPS = 0.1, 0.05
NONE, THREE = (0.0, 0.0, 0.0), (3.05, 3.0, 2.98)
NINE = by_colour(a + b for a, b in zip(SIX, THREE, strict=True))
SEEDS = range(3)
"""Of the shoots by which the limits of confidence were fitted."""

OTHER_SEEDS = range(40, 42)
"""Of shoots that nothing was fitted by."""

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


def _pair(
    seed: int, place: Scene, nd: Colours, *, light: Callable[[float], float] = lambda _: 0.0,
    apart_s: float = 20.0, after: bool = True, grad: GradGlass | None = None,
    sky_less_ground: float = 0.0, shift: tuple[float, float] = (0.0, 0.0),
) -> Shoot:  # fmt: skip
    """A short frame, a filtered one, and perhaps a short one again."""
    shoot, long_s = Shoot(seed, light=light), 0.125 * 2.0 ** round(nd[1])
    shoot.take(place, 0.0)
    shoot.take(place, apart_s, long_s, nd=nd, grad=grad, sky_less_ground=sky_less_ground,
               shift=shift)  # fmt: skip
    if after:
        shoot.take(place, 2 * apart_s + long_s)
    return shoot


def _sea(seed: int, *, bare: bool = False) -> Scene:
    shore = (0.0, 0.12, 0.3)[seed % 3]
    return Scene.invent(seed, shore_share=shore, cloud_stops=0.4, wave_stops=0.6, bare=bare)


def _glass(seed: int) -> GradGlass:
    return (GradGlass(2.0, 0.42, 0.06), GradGlass(3.0, 0.42, 0.15), GradGlass(2.0, 0.42, 0.3),
            GradGlass(3.0, 0.5, 0.3))[seed % 4]  # fmt: skip


def _hand(seed: int, low: float, high: float) -> float:
    """How strong an effect is for a seed."""
    return float(np.random.default_rng(seed + 77).uniform(low, high))


def _three(
    seed: int, *, nd: Colours = SIX, place: Scene | None = None, apart_s: float = 20.0,
    light: Callable[[float], float] = lambda _: 0.0, after: bool = True,
    reddens: float = 0.0,
    short: dict[str, Any] | None = None, long: dict[str, Any] | None = None,
    last: dict[str, Any] | None = None,
) -> Shoot:  # fmt: skip
    """A short frame, a filtered one, and perhaps a short one again, each as it is told."""
    shoot, place, short = (
        Shoot(seed, light=light, tint=_red(reddens)),
        place or coast(seed),
        short or {},
    )
    filtered = {"time_s": 0.125 * 2.0 ** round(nd[1]), "nd": nd, **(long or {})}
    shoot.take(place, 0.0, **short)
    shoot.take(place, apart_s, **filtered)
    if after:
        shoot.take(place, 2 * apart_s + filtered["time_s"], **{**short, **(last or {})})
    return shoot


def _reversed(seed: int) -> Shoot:
    shoot = Shoot(seed)
    shoot.take(coast(seed), 0.0, 8.0, nd=SIX)
    shoot.take(coast(seed), 30.0)
    return shoot


def _red(stops_a_minute: float) -> Callable[[float], Colours]:
    """Light of which red falls less than green, and blue more."""
    return lambda t: (0.4 * stops_a_minute * t / 60.0, 0.0, -0.5 * stops_a_minute * t / 60.0)


UNSEEN = "the sun in for the filtered frame only"
"""What no pair can tell: counted in the most that is ever believed."""

EFFECTS: dict[str, tuple[Colours, Callable[[int], Shoot]]] = {
    "steady light, unfiltered frames before and after": (SIX, lambda s: _pair(s, coast(s), SIX)),
    "ten stops, before and after": (TEN, lambda s: _pair(s, coast(s), TEN)),
    "an unfiltered frame on one side only": (SIX, lambda s: _pair(s, coast(s), SIX, after=False)),
    "with a graduated filter, over a moving sea": (
        SIX, lambda s: _pair(s, _sea(s), SIX, grad=_glass(s))),
    "a graduated filter over a moving sea, one side only": (
        SIX, lambda s: _pair(s, _sea(s), SIX, grad=_glass(s), after=False)),
    "a graduated filter, nothing but sky and water": (
        SIX, lambda s: _pair(s, _sea(s, bare=True), SIX, grad=_glass(s))),
    "the sky dimmed by itself": (
        SIX, lambda s: _pair(s, coast(s), SIX, sky_less_ground=-1.5, after=False)),
    "light falling by 0.2 stop a minute, before and after": (
        TEN, lambda s: _pair(s, coast(s), TEN, light=lambda t: -0.2 * t / 60.0)),
    "falling light, one side only": (
        TEN, lambda s: _pair(s, coast(s), TEN, light=lambda t: -0.2 * t / 60.0, after=False)),
    "light falling by 0.1 stop a minute, two minutes apart, one side only": (
        SIX, lambda s: _pair(s, coast(s), SIX, light=lambda t: -0.1 * t / 60.0, apart_s=120.0,
                             after=False)),
    "the sun went in by 0.7 to 1.9 stops, one side only": (
        SIX, lambda s: _three(s, light=lambda t: -_hand(s, 0.7, 1.9) * (t > 10.0), after=False)),
    "the sun went in by 0.6 stop, one side only": (
        SIX, lambda s: _pair(s, coast(s), SIX, light=lambda t: -0.6 * (t > 10.0), after=False)),
    "the tripod knocked": (SIX, lambda s: _pair(s, coast(s), SIX, shift=(1.6, -0.7))),
    "two filters stacked": (
        (SIX[0] + TEN[0], SIX[1] + TEN[1], SIX[2] + TEN[2]), lambda s: stacked(s).shoot),
    "blown in part": (SIX, lambda s: partly_lost(s, 2.5).shoot),
    "blocked in part": (SIX, lambda s: partly_lost(s, -5.0).shoot),
    "a filter off its marking, before and after": (
        (6.5, 6.4, 6.36), lambda s: _three(s, nd=(6.5, 6.4, 6.36), long={"time_s": 8.0})),
    "a filter off its marking, one side only": (
        (9.7, 9.64, 9.6), lambda s: _three(s, nd=(9.7, 9.64, 9.6), after=False)),
    "the long frame first": (SIX, _reversed),
    "a weaker filter swapped for a stronger one": (
        THREE, lambda s: _three(s, nd=NINE, short={"nd": SIX, "time_s": 8.0}, after=False)),
    "red leaks through the filter": ((9.2, 10.0, 9.9), lambda s: _three(s, nd=(9.2, 10.0, 9.9))),
    UNSEEN: (
        SIX, lambda s: _three(s, light=lambda t: -_hand(s, 0.3, 2.0) * (10.0 < t < 35.0))),
    "the sun went in for good while it was open": (
        SIX, lambda s: _three(s, light=lambda t: -_hand(s, 0.3, 2.0) * (t > 18.0 + s % 4 * 4.0))),
    "the sun set behind a cloud, no filter at all": (
        NONE, lambda s: _three(s, nd=NONE, light=lambda t: -3.0 * (t > 10.0), after=s % 2 == 0,
                               long={"time_s": 1.0}, last={"time_s": 1.0})),
    "a cloud for the longer frame only, no filter at all": (
        NONE, lambda s: _three(s, nd=NONE, light=lambda t: -(1.0 + s % 2) * (10.0 < t < 35.0),
                               long={"time_s": 0.25 * 2.0 ** (s % 2)})),
    "a filter of two stops, before and after": (
        (2.04, 2.0, 1.97), lambda s: _three(s, nd=(2.04, 2.0, 1.97))),
    "fog coming in, one side only": (
        SIX, lambda s: _three(s, long={"through": fog(_hand(s, 0.03, 0.3))}, after=False)),
    "fog coming in, before and after": (
        SIX, lambda s: _three(s, long={"through": fog(_hand(s, 0.03, 0.2))},
                              last={"through": fog(_hand(s, 0.06, 0.4))})),
    "a patch of sun moved on": (
        SIX, lambda s: _three(s, long={"through": patch(1.2, _hand(s, 0.2, 0.8))},
                              short={"through": patch(1.2, 0.4)})),
    "shadows of clouds sweep over the ground": (
        SIX, lambda s: _three(s, short={"through": shadow(1.2, 0.2)},
                              long={"through": shadow(1.2, _hand(s, 0.3, 0.8))},
                              last={"through": shadow(1.2, 1.0)})),
    "the cross of a variable filter": (
        SIX, lambda s: _three(s, long={"through": cross(_hand(s, 0.3, 1.5))}, after=s % 2 == 0)),
    "corners dark behind thick glass": (
        SIX, lambda s: _three(s, long={"through": corners(_hand(s, 0.2, 1.0))})),
    "corners dark in the short frame, wide open": (
        SIX, lambda s: _three(s, short={"through": corners(_hand(s, 0.3, 1.2)), "f_number": 2.8,
                                        "time_s": 1 / 128})),
    "stopped down and ISO raised between": (
        SIX, lambda s: _three(s, long={"f_number": 16.0, "iso": 400.0, "time_s": 4.0})),
    "scattered light in the filter": (
        SIX, lambda s: _three(s, long={"through": flare(_hand(s, 0.01, 0.12))})),
    "light gets in behind the filter": (
        TEN, lambda s: _three(s, nd=TEN, long={"through": leak(_hand(s, 0.1, 1.0))}, after=False)),
    "a polariser turned between the two": (
        SIX, lambda s: _three(s, short={"through": polarised(1.5, 0.0)},
                              long={"through": polarised(1.5, _hand(s, 0.3, 0.9))}, after=False)),
    "a graduated filter on both": (
        SIX, lambda s: _three(s, short={"grad": _glass(s)}, long={"grad": _glass(s)})),
    "a graduated filter on the short frames only": (
        SIX, lambda s: _three(s, short={"grad": _glass(s)})),
    "the zoom nudged, or the camera turned by 2°": (
        SIX, lambda s: _three(s, long={"zoom": 1.02} if s % 2 else {"turn_deg": 2.0})),
    "a boat passes": (
        SIX, lambda s: _three(s, short={"through": boat(0.3)}, last={"through": boat(0.6)})),
    "no aperture in the files, and it was changed": (
        NONE, lambda s: _three(s, nd=NONE, after=s % 2 == 0,
                               short={"f_number": None},
                               long={"f_number": None, "time_s": 2.0, "gain_stops": -4.0})),
    "no aperture in the files": (
        SIX, lambda s: _three(s, after=s % 2 == 0, short={"f_number": None},
                              long={"f_number": None})),
    "the clock jumped by an hour": (
        SIX, lambda s: _three(s, long={"clock_s": 3620.0}, last={"clock_s": 3650.0})),
    "stamped when noise reduction was done, falling light": (
        TEN, lambda s: _three(s, nd=TEN, light=lambda t: -0.1 * t / 60.0, apart_s=140.0,
                              long={"clock_s": 140.0 + 256.0})),
    "at night, near the noise floor": (
        SIX, lambda s: _three(s, short={"gain_stops": -5.0}, long={"gain_stops": -5.0},
                              after=s % 2 == 0)),
    "light that falls and reddens, before and after": (
        TEN, lambda s: _three(s, nd=TEN, light=lambda t: -_hand(s, 0.05, 0.25) * t / 60.0,
                              reddens=_hand(s, 0.05, 0.25))),
    "light that falls ever faster, before and after": (
        TEN, lambda s: _three(s, nd=TEN, light=lambda t: -_hand(s, 0.1, 0.5) * (t / 130.0) ** 2)),
}  # fmt: skip
"""What makes pairs hard, with the filter that is true of it, by the name that the docs use."""


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
    for begin, end, made in ((BEGIN, END, table()), (CHANCES, CHANCES_END, chances())):
        before, after = text.partition(begin)[0], text.partition(end)[2]
        text = f"{before}{begin}\n{made}\n{end}{after}"
    write_bytes(PAGE, text.encode())
    draw(PICTURE)
    print(chances())


if __name__ == "__main__":
    main()
