"""What to do next time in sentences: settings, what each ISO loses, dark frames."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from auditor.advise.next_time import next_times as shared_advice
from auditor.light.graduated import grad_name
from auditor.light.nominal import LONGEST_DIAL_S, nominal_name
from auditor.model.advice import DarkFrameNeed, IsoFigures, NextTime
from auditor.model.audit import Setup
from auditor.model.numbers import counted_stops, stops_text, time_text, whole_share_text
from auditor.model.remark import RemarkCode
from auditor.words.values import sensor_names

MOST_NAMED = 6
"""So many set-ups are named one by one."""


def next_times(setups: Sequence[Setup]) -> list[tuple[str, NextTime]]:
    """Return each advice once, with its set-ups in words: "Set-up 2", "Set-ups 5 to 8"."""
    return [(setups_text(numbers), advice) for numbers, advice in shared_advice(setups)]


def setups_text(numbers: Sequence[int]) -> str:
    """Name set-ups: "Set-up 2", "Set-ups 5 to 8"."""
    if len(numbers) == 1:
        return f"Set-up {numbers[0]}"
    if numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"Set-ups {numbers[0]} to {numbers[-1]}"
    if len(numbers) > MOST_NAMED:
        return f"Set-ups {', '.join(map(str, numbers[:3]))} and {len(numbers) - 3} more"
    return f"Set-ups {', '.join(map(str, numbers[:-1]))} and {numbers[-1]}"


def settings_text(advice: NextTime) -> str:
    """Say the settings in one line: "1/5 s, f/11, ISO 100; behind the 10-stop filter 3 min"."""
    behind = behind_texts(advice)
    times = [f"{name} {text}" for name, text in behind.items() if text != TOO_DARK]
    parts = [bare_text(advice)]
    parts += [f"behind the {', '.join(times)}"] if times else []
    parts += [f"too dark for the {name}" for name, text in behind.items() if text == TOO_DARK]
    parts += [grad_text(advice)] if advice.grad else []
    return "; ".join(parts)


def bare_text(advice: NextTime) -> str:
    """Say the settings without a filter: "1/5 s, f/11, ISO 100", "1/50 s, ISO 100 in still air"."""
    settings = [counted_time(advice.time_s)]
    settings += [f"f/{advice.f_number:g}"] if advice.f_number else []
    settings += [f"ISO {advice.iso:.0f}"] if advice.iso else []
    asked = {one.code for one in advice.remarks}
    return ", ".join(settings) + (" in still air" if RemarkCode.STILL_AIR in asked else "")


def grad_text(advice: NextTime) -> str:
    """Say which graduated filter, and where its edge goes; nothing where none is advised."""
    grad = advice.grad
    if grad is None:
        return ""
    edge = f"its edge {whole_share_text(grad.edge_at)} from the top"
    return f"{grad_name(grad.stops, grad.kind)}, {edge}"


TOO_DARK = "too dark"
"""In place of a time where neither the aperture nor ten minutes would do behind a filter."""


def behind_texts(advice: NextTime) -> dict[str, str]:
    """Say the time behind each filter; where it runs away, at the aperture that serves."""
    too_long = {
        one.name("filter"): one for one in advice.remarks if one.code == RemarkCode.LONG_BEHIND
    }
    told = {}
    for one in advice.behind:
        serves = too_long.get(one.filter)
        told[one.filter] = TOO_DARK
        if serves is None and one.time_s:
            told[one.filter] = counted_time(one.time_s)
        elif serves is not None and serves.has("f_number"):
            other = counted_time(serves.number("other_s"))
            told[one.filter] = f"{other} at f/{serves.number('f_number'):g}"
    return told


COUNTED_STEPS = ((60.0, 1.0), (240.0, 5.0), (600.0, 15.0), (3600.0, 60.0))
"""Up to how many seconds a time is advised in steps of how many: none is off by a tenth of a stop,
and none counts closer in the dark."""


def counted_time(time_s: float) -> str:
    """Say an advised time: as the dial has it, beyond it as one counts: "1 min 25 s", "8 min"."""
    if time_s <= LONGEST_DIAL_S:
        return nominal_name(time_s)
    step_s = next((step for most_s, step in COUNTED_STEPS if time_s <= most_s), 60.0)
    return time_text(step_s * round(time_s / step_s))


FILTER_TIMES_NOTE = (
    "Times behind filters use the measured strengths and allow for the changing light."
)
"""Why the times behind filters are not those of their markings."""


TOLD_STOPS = 0.1
"""A loss of less is not worth a word."""


def iso_lines(figures: Sequence[IsoFigures]) -> list[str]:
    """Say of each body what its ISOs hold, what they lose, and from where on more is in vain."""
    told = [one for one in figures if one.range_stops is not None or one.read_noise_e is not None]
    lines = []
    for sensor, body in sensor_names(told).items():
        isos = [one for one in told if (one.body, one.sensor) == sensor]
        lines += [f"{body}, ISO {one.iso:.0f}: {'; '.join(_holds(one))}." for one in isos]
        vain = next((one for one in isos if one.more_in_vain), None)
        if vain is not None:
            lines.append(
                f"{body}: from ISO {vain.iso:.0f} on more ISO reads no quieter; brightening "
                "afterwards does as much and clips nothing."
            )
    return lines


def _holds(one: IsoFigures) -> Iterator[str]:
    if one.range_stops is not None:
        yield f"range {stops_text(one.range_stops)} stops"
    if one.full_well_e is not None:
        yield f"full well {one.full_well_e:,.0f} electrons"
    if one.read_noise_e is not None:
        yield f"read noise {one.read_noise_e:.1f} electrons"
    if (one.range_loss_stops or 0.0) >= TOLD_STOPS:
        yield f"{counted_stops(one.range_loss_stops)} less range than its best ISO"
    if (one.full_well_loss_stops or 0.0) >= TOLD_STOPS:
        lost = counted_stops(one.full_well_loss_stops, digits=2)
        yield f"clips {lost} earlier than the full stop below it would"
    if one.gain_step:
        yield "its second gain sets in here"


def dark_frame_lines(needs: Sequence[DarkFrameNeed]) -> list[str]:
    """Say which dark frame serves which long exposures, found or still to be taken."""
    lines = []
    for need in needs:
        names = ", ".join(need.frames)
        iso = f", ISO {need.iso:.0f}" if need.iso else ""
        warm = f", about {need.temperature_c:.0f} °C" if need.temperature_c is not None else ""
        shown = need.hot_pixels
        shows = "" if shown is None else f" It shows {shown} of its hot pixels."
        lines.append(
            f"{names}: a dark frame of {time_text(need.time_s)}{iso}{warm} would match."
            if need.found is None
            else f"{names}: {need.found} is the dark frame that matches.{shows}"
        )
    return lines
