"""What the HTML report's script draws set-ups and panoramas from, by name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from auditor.report.html_data import bar_data, facts_data, unbroken
from auditor.report.page_records import (
    BracketSheet,
    GradSheet,
    KeeperSheet,
    PairSheet,
    PanoramaSheet,
    SetupSheet,
)

Numbers = Mapping[str, int]


def setup_data(setup: SetupSheet, numbers: Numbers) -> dict[str, Any]:
    """Return all that is told of one set-up; frames by their numbers on the page."""
    return {
        "shifts": [
            None if shift is None else [round(v, 1) for v in shift] for shift in setup.shifts
        ],
        "pairs": [_pair(pair, numbers) for pair in setup.pairs],
        "brackets": [_bracket(bracket, numbers) for bracket in setup.brackets],
        "grads": [_grad(grad, numbers) for grad in setup.grads],
        "skies": [unbroken(line) for line in setup.skies],
        "horizon": None
        if setup.horizon is None
        else {"frame": numbers.get(setup.horizon[0]), "ends": setup.horizon[1]},
        "keepers": [_keeper(keeper, numbers) for keeper in setup.keepers],
        "nextTime": setup.next_time
        and {
            "text": unbroken(setup.next_time.text),
            "why": [unbroken(reason) for reason in setup.next_time.why],
        },
        "notes": list(setup.notes),
    }


def run_data(run: PanoramaSheet, numbers: Numbers) -> dict[str, Any]:
    """Return all that is told of one panorama."""
    return {
        "title": run.title,
        "sentence": unbroken(run.sentence),
        "frames": [numbers[frame] for frame in run.frames if frame in numbers],
        "notes": list(run.notes),
    }


def _pair(pair: PairSheet, numbers: Numbers) -> dict[str, Any]:
    return {
        "short": numbers.get(pair.short),
        "long": numbers.get(pair.long),
        "title": pair.title,
        "sentence": unbroken(pair.sentence),
        "stops": round(pair.filter_stops, 3),
        "channels": [
            {"name": name, "stops": round(stops, 3), "text": text}
            for name, stops, text in pair.by_channel
        ],
        "facts": facts_data(pair.facts),
        "reasons": list(pair.reasons),
        "best": pair.best,
        "density": _density(pair) if pair.best and pair.density_text else None,
    }


def _density(pair: PairSheet) -> dict[str, Any]:
    rows = [[None if v is None else round(v, 2) for v in row] for row in pair.density]
    return {"rows": rows, "text": unbroken(pair.density_text)}


def _bracket(bracket: BracketSheet, numbers: Numbers) -> dict[str, Any]:
    return {
        "title": bracket.title,
        "sentence": unbroken(bracket.sentence),
        "steps": [
            {
                "frame": numbers.get(step.frame),
                "offset": None if step.offset_stops is None else round(step.offset_stops, 3),
                "bar": bar_data(step.bar),
                "covered": step.covered_text,
                "needed": step.needed,
                "job": step.job,
            }
            for step in bracket.steps
        ],
        "facts": facts_data(bracket.facts),
        "notes": list(bracket.notes),
    }


def _grad(grad: GradSheet, numbers: Numbers) -> dict[str, Any]:
    return {
        "without": numbers.get(grad.without),
        "with": numbers.get(grad.with_),
        "sentence": unbroken(grad.sentence),
        "edge": round(grad.edge_at, 4),
        "horizon": grad.horizon,
        "profile": [round(stops, 3) for stops in grad.profile_stops],
        "facts": facts_data(grad.facts),
        "notes": list(grad.notes),
    }


def _keeper(keeper: KeeperSheet, numbers: Numbers) -> dict[str, Any]:
    fit = keeper.print_fit
    return {
        "frame": numbers.get(keeper.frame),
        "kind": keeper.kind_text,
        "why": [unbroken(reason) for reason in keeper.why],
        "others": [numbers[frame] for frame in keeper.others if frame in numbers],
        "against": [
            {"frame": numbers[frame], "text": unbroken(text)}
            for frame, text in keeper.against
            if frame in numbers
        ],
        "print": None
        if fit is None
        else {
            "sentence": unbroken(fit.sentence),
            "sizes": facts_data(fit.sizes),
            "notes": list(fit.notes),
        },
    }
