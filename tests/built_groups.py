"""Set-ups, pairs, brackets and lessons over the invented evening."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from auditor.model.advice import (
    BehindFilter,
    BlendFrame,
    DarkFrameNeed,
    FilterVerdict,
    GradAdvice,
    IsoFigures,
    LightForecast,
    NextTime,
    PairMatch,
)
from auditor.model.audit import (
    Audit,
    Bracket,
    Grad,
    Keeper,
    Lesson,
    LightPoint,
    Marking,
    Panorama,
    PrintFit,
    Setup,
    SiblingPair,
    SkyBalance,
    SunDay,
)
from auditor.model.codes import BlendJob, Cast, GradKind, KeeperLength
from auditor.model.findings import FindingKind
from auditor.words.kinds import KINDS
from tests.built_shots import Shot

MARKINGS = {6: Marking(6.0, 1.8, 64.0, "6 stops, ND64, density 1.8"),
            10: Marking(9.966, 3.0, 1000.0, "10 stops, ND1000, density 3.0")}  # fmt: skip


SUNDAY = SunDay(
    "2031-09-14", 12.0, 3.5, "2031-09-14T13:41:00+01:00", 81.2,
    sunrise="2031-09-14T07:35:00+01:00", sunset="2031-09-14T19:46:00+01:00",
    civil_dusk="2031-09-14T20:07:00+01:00", nautical_dusk="2031-09-14T20:31:00+01:00",
)  # fmt: skip


def grouped(audit: Audit, plan: list[Shot]) -> Audit:
    """Add everything that is told of groups of frames and of the whole shoot."""
    ids = [frame.id for frame in audit.frames]
    cycles = [plan[start : start + 24] for start in range(0, len(plan), 24)]
    return replace(
        audit,
        setups=tuple(s for cycle in cycles for s in _setups(cycle, ids)),
        siblings=tuple(s for cycle in cycles for s in _siblings(cycle, ids)),
        brackets=tuple(b for cycle in cycles for b in _brackets(cycle, ids)),
        grads=tuple(g for cycle in cycles for g in _grads(cycle, ids)),
        skies=tuple(_skies(plan, ids)),
        panoramas=tuple(r for cycle in cycles for r in _runs(cycle, ids)),
        keepers=tuple(k for cycle in cycles for k in _keepers(cycle, ids)),
        light=tuple(_light(plan, ids)),
        lessons=_lessons(ids),
        sun_days=(SUNDAY,),
        filters=(
            FilterVerdict(
                name="10-stop filter",
                pairs=2,
                frames=(ids[0],),
                stops=9.7,
                spread_stops=0.02,
                cast_stops={"R": 0.1, "B": -0.08},
                cast=Cast.COOL,
                marking_stops=10.0,
                off_marking_stops=-0.3,
            ),
        ),
        dark_frames=(
            DarkFrameNeed(
                body="Brackwell F45",
                iso=100.0,
                time_s=161.0,
                temperature_c=11.5,
                frames=(ids[0],),
                hot_pixels=None,
            ),
        ),
        isos=(
            IsoFigures(
                body="Brackwell F45",
                iso=100.0,
                frames=20,
                full_well_e=51000.0,
                read_noise_e=3.1,
                range_stops=13.6,
                range_loss_stops=0.0,
            ),
        ),
        forecast=(
            LightForecast(
                setup="s1",
                at="2031-09-15T19:40:00+01:00",
                sun_altitude_deg=1.2,
                expected_ev100=9.4,
                day="2031-09-14",
                time_s=0.2,
                f_number=11.0,
                iso=100.0,
            ),
        ),
        prints=tuple(_print(ids[k]) for k in range(0, len(ids), 24)),
    )


def _of(cycle: list[Shot], *roles: str, scene: int | None = None) -> list[Shot]:
    return [s for s in cycle if s.plan.role in roles and scene in (None, s.plan.scene)]


def _name(cycle: list[Shot], scene: int) -> str:
    return f"s{cycle[0].cycle * 14 + scene + 1}"


def _setups(cycle: list[Shot], ids: list[str]) -> list[Setup]:
    made = []
    for scene in dict.fromkeys(s.plan.scene for s in cycle if s.plan.role != "unreadable"):
        shots = [s for s in cycle if s.plan.scene == scene and s.plan.role != "unreadable"]
        started = shots[0].taken.isoformat(timespec="milliseconds")
        shifts = tuple((2.0 * i, -1.0 * i) for i in range(len(shots)))
        focal = 24.0 + 11 * (shots[0].scene % 4)
        made.append(
            Setup(
                _name(cycle, scene),
                tuple(ids[s.index] for s in shots),
                started,
                focal,
                shifts,
                next_time=_next_time(ids[shots[0].index]) if scene < 2 else None,
            )
        )
    return made


def _next_time(frame: str) -> NextTime:
    behind = (BehindFilter(filter="10-stop filter", time_s=204.0),
              BehindFilter(filter="16-stop filter", time_s=None))  # fmt: skip
    return NextTime(
        time_s=0.2, f_number=11.0, iso=100.0, frame=frame, change_stops=1.0, headroom_stops=0.31,
        joint=(frame,), behind=behind, why=(f"{frame} (1/10 s) has 1.3 stops of headroom.",),
        grad=GradAdvice(stops=2.0, density=0.6, kind=GradKind.SOFT, edge_at=0.4),
        text="1/5 s, f/11, ISO 100; behind the 10-stop filter 3 min 24 s; 2-stop (0.6) grad",
    )  # fmt: skip


def _siblings(cycle: list[Shot], ids: list[str]) -> list[SiblingPair]:
    return [
        _pair(cycle, short, long, ids, best=number == 0)
        for long in _of(cycle, "long")
        for number, short in enumerate(_of(cycle, "short", scene=long.plan.scene))
    ]


def _pair(cycle: list[Shot], short: Shot, long: Shot, ids: list[str], *, best: bool) -> SiblingPair:
    cast = dict(zip("RGB", long.plan.cast, strict=True))
    stops = long.plan.filter_stops
    marking = MARKINGS[6 if stops < 8 else 10]
    placed = float(np.log2(long.time_s / short.time_s)) - stops
    placed -= short.scene_ev - long.scene_ev
    return SiblingPair(
        _name(cycle, long.plan.scene), ids[short.index], ids[long.index],
        float(np.log2(long.time_s / short.time_s)), stops,
        {name: stops + cast[name] for name in "RGB"}, {"R": cast["R"], "B": cast["B"]},
        None if stops < 8 else short.scene_ev - long.scene_ev, marking,
        stops - marking.stops, long.time_s * 2.0**-placed, placed,
        0.93 if best else 0.61, ("same framing to 2 px", "still ground agrees over 412 tiles"),
        "six-stop glass, seen in 3 shoots" if stops < 8 else None, best,
        PairMatch(exposure_offset_stops=-placed, white_balance_multipliers=(1.9, 1.0, 1.4)),
        ((stops, stops + 0.1), (None, stops)),
    )  # fmt: skip


def _brackets(cycle: list[Shot], ids: list[str]) -> list[Bracket]:
    names = [ids[s.index] for s in _of(cycle, "bracket")]
    if len(names) < 5:
        return []
    covered = dict(zip(names, (0.981, 0.744, 0.921, 0.962, 0.903), strict=True))
    return [
        Bracket(_name(cycle, 0), tuple(names), 1.0, 0.9987, covered, (names[1], names[0]),
                tuple(names[2:]), 0.0004, 0.0009, "0 − −− + ++", noisy_fraction=0.013, blend=(
                    BlendFrame(frame=names[1], job=BlendJob.HIGHLIGHTS, share=0.3,
                               noisy_fraction=0.0),
                    BlendFrame(frame=names[0], job=BlendJob.SHADOWS, share=0.7,
                               noisy_fraction=0.013, shift_px=1.2, shift_error_px=0.4)))
    ]  # fmt: skip


def _grads(cycle: list[Shot], ids: list[str]) -> list[Grad]:
    without, with_ = _of(cycle, "plain"), _of(cycle, "grad")
    if not (without and with_):
        return []
    height = np.linspace(0, 1, 48)
    profile = tuple(float(v) for v in 2.9 / (1 + np.exp((height - 0.42) / 0.03)))
    return [
        Grad(_name(cycle, 3), ids[without[0].index], ids[with_[0].index], 0.42, 2.9, 0.13, profile)
    ]


def _skies(plan: list[Shot], ids: list[str]) -> list[SkyBalance]:
    kept = [s for s in plan if s.plan.role in ("short", "plain", "blown")]
    return [SkyBalance(ids[s.index], 2.4, 0.7, 2.0 if s.plan.role == "plain" else None, 0.41,
                       horizon_ends=(0.42, 0.40))
            for s in kept]  # fmt: skip


def _runs(cycle: list[Shot], ids: list[str]) -> list[Panorama]:
    names = tuple(ids[s.index] for s in _of(cycle, "pan"))
    if len(names) < 2:
        return []
    return [Panorama(names, 0.34, (0.31, 0.28, 0.33)[: len(names) - 1])]


def _keepers(cycle: list[Shot], ids: list[str]) -> list[Keeper]:
    made = []
    for scene in dict.fromkeys(s.plan.scene for s in cycle):
        for kind, roles in (
            (KeeperLength.SHORT, ("bracket", "short", "plain")),
            (KeeperLength.LONG, ("long",)),
        ):
            names = tuple(ids[s.index] for s in _of(cycle, *roles, scene=scene))
            if names:
                why = ("no plane is blown", "2.1 stops of room in the shadows")
                made.append(Keeper(_name(cycle, scene), names[0], kind, why, names))
    return made


def _light(plan: list[Shot], ids: list[str]) -> list[LightPoint]:
    return [
        LightPoint(ids[s.index], s.taken.isoformat(timespec="milliseconds"), s.scene_ev, s.sun_deg,
                   s.plan.filter_stops > 0, -0.06, 0.1 if s.time_s > 60 else None, "before sunset",
                   "2031-09-14", 1, 0.0)
        for s in plan if s.plan.role not in ("dark", "unreadable")
    ]  # fmt: skip


def _lessons(ids: list[str]) -> tuple[Lesson, ...]:
    told = (
        ("blown-area", "Two long exposures lost the sun's glow. Give a third of a stop less.",
         "0.31 % of the frame in the worse one", (5, 10)),
        ("filter-off-marking", "The filter marked 10 stops holds back 10.3: lengthen by a quarter.",
         "measured on 2 pairs, ± 0.04 stop", (10, 11)),
        ("headroom-left", "The bracket's middle frame had over a stop to spare. Start it brighter.",
         "1.4 stops under saturation", (0,)),
        ("preview-early", "The preview cries clipping 0.4 stop before green does: trust it less.",
         "median of all measured frames", ()),
        ("sky-brighter", "A 2-stop grad would have balanced sky and ground.", "2.4 stops apart",
         (12,)),
    )  # fmt: skip
    return tuple(
        Lesson(text, evidence, tuple(ids[i] for i in which if i < len(ids)), code)
        for code, text, evidence, which in told
    )


def _print(frame: str) -> PrintFit:
    sizes = {"360": (40.6, 27.1), "300": (48.8, 32.5), "240": (61.0, 40.6)}
    viewing = {"360": 24.3, "300": 29.1, "240": 36.4}
    return PrintFit(frame, sizes, viewing, 6.4, 0.031, 0.0002, 1.2)


def make_kinds() -> dict[str, FindingKind]:
    """The registry of findings."""
    return dict(KINDS)
