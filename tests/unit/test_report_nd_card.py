from __future__ import annotations

import io
from pathlib import Path
from typing import Any, cast

import pytest
from PIL import Image

from auditor.light.filters import nearest_marking
from auditor.light.nd_plan import NdPlan, plan_nd_time
from auditor.model.errors import CannotWrite, WrongCall
from auditor.model.history import KnownFilter
from auditor.report import nd_card
from auditor.report.nd_card import build_card, write_card
from auditor.words.nd_plan import DAY_S

HOSTILE = KnownFilter(
    "$\\frac{1}{2}$ <b>\n\u202e\udc80" + "x" * 300, {"G": 10.3}, 0.1, {}, nearest_marking(10.3), 4
)


def texts(plan: NdPlan, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    said: list[str] = []
    write = nd_card._Sheet.text

    def note(
        sheet: nd_card._Sheet, left: float, top: float, text: str, size: float, **look: Any
    ) -> None:
        said.append(text)
        write(sheet, left, top, text, size, **look)

    monkeypatch.setattr(nd_card._Sheet, "text", note)
    build_card(plan, "png")
    return said


def test_the_card_is_a_six_at_300_dots_an_inch() -> None:
    with Image.open(io.BytesIO(build_card(plan_nd_time("4", stops=[6]), "png"))) as card:
        assert card.size == (1240, 1748)
        darkest, _ = cast(tuple[float, float], card.convert("L").getextrema())
        assert darkest < 60


def test_the_card_says_times_and_cautions(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = plan_nd_time("4", stops=[6])
    said = texts(plan, monkeypatch)
    assert "4 min 16 s" in said
    assert "6.0 stops" in said
    assert "protect no eye" in " ".join(said)
    assert "tide" in " ".join(said)


def test_times_beyond_a_day_and_beyond_reach_are_said_so(monkeypatch: pytest.MonkeyPatch) -> None:
    endless = plan_nd_time("30", stops=[20])
    lost = plan_nd_time("30", stops=[10], drift_stops_per_min=-1.0)
    for plan, why in ((endless, "more than a day"), (lost, "light falls too fast")):
        said = texts(plan, monkeypatch)
        assert why in said
        assert "thinner filter" in said
        assert said.count("hold open") == sum(row.time_s is not None for row in plan.rows) - sum(
            (row.time_s or 0.0) > DAY_S for row in plan.rows
        )


def test_falling_light_puts_dark_ground_on_the_card(monkeypatch: pytest.MonkeyPatch) -> None:
    said = " ".join(texts(plan_nd_time("4", stops=[6], drift_stops_per_min=-0.1), monkeypatch))
    assert "way back is dark" in said
    assert "protect no eye" in said


@pytest.mark.parametrize("kind", ["png", "pdf"])
def test_hostile_names_are_drawn_as_plain_text(kind: str) -> None:
    plan = plan_nd_time("1/8", filters=[HOSTILE.name], known=[HOSTILE])
    assert build_card(plan, kind) == build_card(plan, kind)


def test_the_ending_says_the_format(tmp_path: Path) -> None:
    plan = plan_nd_time("4", stops=[6])
    write_card(plan, tmp_path / "card.PDF")
    assert (tmp_path / "card.PDF").read_bytes().startswith(b"%PDF-")
    with pytest.raises(WrongCall, match=r"\.png or a \.pdf"):
        write_card(plan, tmp_path / "card.txt")
    assert [path.name for path in tmp_path.iterdir()] == ["card.PDF"]


def test_a_folder_that_is_a_file_cannot_take_a_card(tmp_path: Path) -> None:
    (tmp_path / "place").write_text("a file")
    with pytest.raises(CannotWrite):
        write_card(plan_nd_time("4", stops=[6]), tmp_path / "place" / "card.png")
