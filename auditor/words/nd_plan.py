"""Shutter times behind filters, planned and put into words: a plan, a kit and a wanted time."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import wraps
from typing import ParamSpec, TypeVar

from auditor.light.exposure import DAY_S
from auditor.light.filters import FilterStrength, counting_text, drifting
from auditor.light.nd_kit import Kit, KitColumn, plan_kit
from auditor.light.nd_plan import NdPlan, OwnFilter, plan_nd_time
from auditor.light.nd_want import WantedWay, WantPlan, plan_wanted_time
from auditor.light.nominal import (
    LONGEST_DIAL_S,
    SHORTEST_DIAL_S,
    dial_of,
    nominal_name,
)
from auditor.model.apertures import Series
from auditor.model.numbers import TIME_STEPS, counted_stops, stops_text, time_text
from auditor.words.cautions import LONG_EXPOSURE, LONG_EXPOSURE_AT_DUSK

IN_MINUTES_S = 600.0
"""From ten minutes on light, battery and heat have a say (common practice)."""


def plan_with_words(plan: NdPlan) -> NdPlan:
    """Put its sentences to a plan."""
    true_s, steady_s, drift = plan.true_s, plan.steady_s, plan.drift_stops_per_min
    in_minutes = f" ({time_text(steady_s)})" if steady_s >= 60 else ""
    formula = f"t × 2^stops = {_exact(true_s)} × 2^{plan.strength.stops:.2f} = {_exact(steady_s)}"
    with_drift = "; with drift g stops a minute: T = 60 / (g ln 2) · ln(1 + t g ln 2 / 60)"
    names, rows = {row.metered for row in plan.rows}, []
    for row in plan.rows:
        own = written_time(row.metered_s)
        # a time that no dial bears is named as it was given
        metered = row.metered or (f"{own} exactly" if own in names else own)
        rows.append(replace(row, metered=metered, setting=setting_text(row.time_s, plan.series)))
    return replace(
        plan,
        parts=tuple(one.name if one.figure_alone else own_text(one) for one in plan.filters),
        answer=_answer(plan),
        rows=tuple(rows),
        formula=f"{formula}{in_minutes}{with_drift if drift else ''}",
        notes=_plan_notes(plan),
        cautions=_cautions(drift),
    )


def kit_with_words(kit: Kit) -> Kit:
    """Put its sentences to a kit."""
    notes = long_notes(min(kit.longest_s, LONGEST_DIAL_S + 1.0))
    return replace(kit, notes=tuple(notes), cautions=_cautions(kit.drift_stops_per_min))


def want_with_words(plan: WantPlan) -> WantPlan:
    """Put their sentences to the ways to a wanted time."""
    ways = tuple(
        replace(way, filters=tuple(map(own_text, way.held)), setting=setting_text(way.time_s))
        for way in plan.ways
    )
    wanted, needed = counting_text(plan.wanted_s), plan.needed_stops
    if ways:
        behind = " and ".join(ways[0].filters) or "no filter"
        answer = f"For {wanted}: {behind}, {change_text(ways[0])}, {ways[0].setting}."
    else:
        sense = f"{needed:.1f} stops less light are needed" if needed > 0 else "it needs more light"
        answer = (
            f"No filter on hand gives {wanted}: {sense}, more than filters, aperture and ISO can."
        )
    usual = ["Using the strengths that are sold everywhere; name yours by --filter."]
    return replace(
        plan,
        ways=ways,
        answer=answer,
        notes=(*(usual if plan.usual else ()), *long_notes(plan.wanted_s)),
        cautions=_cautions(plan.drift_stops_per_min),
    )


def _cautions(drift: float) -> tuple[str, ...]:
    return LONG_EXPOSURE_AT_DUSK if drift < 0 else LONG_EXPOSURE


def own_text(own: OwnFilter) -> str:
    """Name a filter, and where its strength is from unless the name says it."""
    if own.known is None and (not own.name or own.name[0].isdigit()):
        return own.name
    return f"{own.name} ({'measured' if own.known else f'{own.stops:g} stops'})"


def strength_text(column: KitColumn) -> str:
    """Say how strong a filter is and where that is from: "6.2 stops (density 1.87), measured"."""
    strength = FilterStrength(column.stops)
    scatter = scatter_text(column.spread_stops)
    source = f"measured{f', {scatter}' if scatter else ''}" if column.measured else "as given"
    return f"{column.stops:.1f} stops (density {strength.density:.2f}), {source}"


def setting_text(time_s: float | None, series: Series = "third") -> str:
    """Say what to do for a time: set it on the dial, or Bulb and the time to count."""
    if time_s is None:
        return "the light falls too fast"
    if time_s > LONGEST_DIAL_S:
        return f"Bulb {counting_text(time_s)}"
    if time_s < SHORTEST_DIAL_S:
        return "shorter than any dial goes"
    return f"set {nominal_name(time_s, series)}"


def written_time(time_s: float) -> str:
    """Say a time that no dial bears as it was given, four digits: "1/7 s", "1 min 30 s"."""
    return _exact(time_s) if time_s < 60.0 else time_text(time_s)


def short_time(time_s: float | None) -> str:
    """Say a time in the room of a table's cell: "1/60", "15 s", "4′16″", "1 h 08′"."""
    if time_s is None:
        return "–"
    if time_s <= LONGEST_DIAL_S:
        name = nominal_name(time_s)
        return name.removesuffix(" s") if "/" in name else name
    step_s = next((step for least_s, step in TIME_STEPS if time_s >= least_s), 1)
    seconds = step_s * round(time_s / step_s)
    if seconds >= 3600:
        return f"{seconds // 3600} h {seconds % 3600 // 60:02d}′"
    return f"{seconds // 60}′{seconds % 60:02d}″" if seconds >= 60 else f"{seconds}″"


def _answer(plan: NdPlan) -> str:
    """Say the result in a sentence; where the light falls too fast, also what would work.

    That is a stop more light than is missing, in thirds: the least is reached just while the
    light falls by a stop.
    """
    strength, time_s = plan.strength, plan.time_s
    behind = f"behind {strength.stops:.1f} stops (density {strength.density:.2f})"
    if time_s is not None:
        if time_s > LONGEST_DIAL_S:
            return f"Bulb {counting_text(time_s)} {behind}."
        if time_s >= SHORTEST_DIAL_S:
            return f"Set {nominal_name(time_s, plan.series)} {behind}."
        return (
            f"{time_text(time_s)} {behind}: shorter than any dial goes. Close the aperture, lower "
            "the ISO or take a denser filter."
        )
    more_stops = math.ceil(3.0 * (plan.short_stops + 1.0) - 1e-9) / 3.0
    enough_s = drifting(plan.steady_s / 2.0**more_stops, plan.drift_stops_per_min).time_s
    thinner = strength.stops - more_stops
    more = counted_stops(more_stops, digits=0)
    ways = f"open the aperture by {more}, or raise the ISO {2**more_stops:.1f}-fold"
    ways += f", or take a filter of {thinner:.1f} stops" if thinner > 0 else ""
    return (
        f"No shutter time {behind} will do: the light falls too fast. Even an endless exposure "
        f"ends {plan.short_stops:.1f} stops short. With {more} more light "
        f"{counting_text(enough_s or 0.0)} will do: {ways}."
    )


def span_text(least_s: float | None, most_s: float | None) -> str:
    """Say between which times a filter's own scatter leaves one; nothing where they read alike."""
    if least_s is None or most_s is None:
        return ""
    least, most = counting_text(least_s), counting_text(most_s)
    return "" if least == most else f"{least} to {most}"


def scatter_text(spread_stops: float) -> str:
    """Say how far one pair lies from the next; nothing where two digits show none."""
    return f"one pair scatters by {spread_stops:.2f}" if round(spread_stops, 2) else ""


def _exact(time_s: float) -> str:
    return f"{_digits(time_s)} s" if time_s >= 0.3 else f"1/{_digits(1.0 / time_s)} s"


def _digits(value: float) -> str:
    """Print four digits or more, never a power of ten."""
    return f"{value:.4g}" if value < 1000.0 else f"{value:.0f}"


def _plan_notes(plan: NdPlan) -> tuple[str, ...]:
    """Say what was taken for granted and where the figures come from."""
    drift, notes = plan.drift_stops_per_min, []
    off, dial = math.log2(plan.true_s / plan.nominal_s), dial_of(plan.nominal_s)
    if abs(off) >= 0.02 and dial is not None:
        notes.append(
            f"{dial[1]} on the dial truly runs {_exact(plan.true_s)}, "
            f"{abs(off):.2f} stop {'longer' if off > 0 else 'shorter'}; the true time is used."
        )
    known = [one.known for one in plan.filters if one.known is not None]
    for one in known:
        signed = stops_text(one.off_marking_stops, signed=True)
        scatter = scatter_text(one.spread_stops)
        notes.append(
            f"{one.name}: measured {one.stops:.2f} stops over {one.count} pairs"
            f"{f' ({scatter})' if scatter else ''}, {signed} against its marking "
            f"{one.marking.label}."
        )
    if not known:
        notes.append(
            "Using the marked strength. Filters are often a third of a stop off theirs; the audit "
            "of a pair with and without the filter measures the true density."
        )
    if drift:
        way = "falls" if drift < 0 else "rises"
        notes.append(
            f"The light {way} by {abs(drift):g} stops a minute from the moment the shutter opens."
        )
    return (*notes, *long_notes(plan.time_s or 0.0))


def long_notes(time_s: float) -> list[str]:
    """Say what a long time asks for: a covered finder, and from ten minutes on a good deal more."""
    notes = []
    if time_s > LONGEST_DIAL_S:
        notes.append(
            "Cover an optical finder: light enters through it. A sensor needs no correction for a "
            "long time; reciprocity failure is film's alone."
        )
    if time_s > IN_MINUTES_S:
        notes.append(
            "Beyond ten minutes the light changes (see --drift), a weak battery may end the "
            "exposure, and a warm sensor shows more hot pixels. The camera's noise reduction takes "
            f"a dark frame as long: {time_text(2.0 * time_s)} in all. Switched off, one dark frame "
            "of the same time and ISO, taken while packing, serves for all."
        )
    if time_s > DAY_S:
        notes.append("That is more than a day: a thinner filter or a wider aperture is needed.")
    return notes


def change_text(way: WantedWay) -> str:
    """Say the aperture and ISO to set, or by how much the aperture moves."""
    if way.f_number is not None:
        return f"f/{way.f_number}" + (f", ISO {way.iso}" if way.iso else "")
    if way.close_stops == 0.0:
        return "aperture as metered"
    how_far = counted_stops(abs(way.close_stops), digits=0)
    moved = f"{'close' if way.close_stops > 0 else 'open'} the aperture by {how_far}"
    return moved + (f", ISO {way.iso}" if way.iso else "")


def card_text(plan: NdPlan) -> str:
    """Say under a card's table what its times take for granted; empty where nothing is."""
    told = "" if plan.exact else "Dial times are taken as the powers of two they stand for. "
    if span := span_text(plan.least_s, plan.most_s):
        told += f"By the scatter of its own pairs the filter asks for {span} in the marked row."
    return told


def kit_card_lines(kit: Kit) -> list[str]:
    """Say what a kit's card asks to be minded: falling light, the shaded times, Bulb."""
    lines = ["Shaded: Bulb, in minutes and seconds.", *long_notes(LONGEST_DIAL_S + 1.0)]
    if kit.drift_stops_per_min:
        way = "falling" if kit.drift_stops_per_min < 0 else "rising"
        lines.insert(0, f"In light {way} by {abs(kit.drift_stops_per_min):g} stop a minute.")
    return lines


Given = ParamSpec("Given")
Plan = TypeVar("Plan")


def _told(plan: Callable[Given, Plan], with_words: Callable[[Plan], Plan]) -> Callable[Given, Plan]:
    @wraps(plan)
    def told(*args: Given.args, **kwargs: Given.kwargs) -> Plan:
        return with_words(plan(*args, **kwargs))

    return told


nd_time = _told(plan_nd_time, plan_with_words)
nd_kit = _told(plan_kit, kit_with_words)
nd_want = _told(plan_wanted_time, want_with_words)
