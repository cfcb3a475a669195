"""The sentences of the settings for next time."""

from __future__ import annotations

from collections.abc import Sequence

from auditor.advise.next_time import next_times as shared_advice
from auditor.light.filters import counting_text
from auditor.light.graduated import grad_name
from auditor.light.nominal import LONGEST_DIAL_S, nominal_name
from auditor.model.advice import NextTime
from auditor.model.audit import Setup
from auditor.model.numbers import whole_share_text

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
    settings = [_time(advice.time_s)]
    settings += [f"f/{advice.f_number:g}"] if advice.f_number else []
    settings += [f"ISO {advice.iso:.0f}"] if advice.iso else []
    parts = [", ".join(settings)]
    parts += [f"behind the {one.filter} {_time(one.time_s)}" for one in advice.behind if one.time_s]
    if advice.grad is not None:
        grad = advice.grad
        edge = f"its edge {whole_share_text(grad.edge_at)} from the top"
        parts.append(f"{grad_name(grad.stops, grad.kind)}, {edge}")
    return "; ".join(parts)


def _time(time_s: float) -> str:
    return counting_text(time_s) if time_s > LONGEST_DIAL_S else nominal_name(time_s)
