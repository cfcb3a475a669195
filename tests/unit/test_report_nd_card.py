from __future__ import annotations

import io
from pathlib import Path
from typing import Any, cast

import pytest
from PIL import Image

from auditor.light.exposure import DAY_S
from auditor.light.filters import nearest_marking
from auditor.light.nd_kit import Kit
from auditor.light.nd_plan import NdPlan
from auditor.model.errors import CannotWrite, WrongCall
from auditor.model.history import KnownFilter
from auditor.report.card_sheet import CardSheet
from auditor.report.nd_card import build_card, write_card
from auditor.words.nd_plan import nd_kit as plan_kit
from auditor.words.nd_plan import nd_time as plan_nd_time

HOSTILE = KnownFilter(
    "$\\frac{1}{2}$ <b>\n\u202e\udc80" + "x" * 300, {"G": 10.3}, 0.1, {}, nearest_marking(10.3), 4
)


def texts(plan: NdPlan | Kit, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    said: list[str] = []
    write = CardSheet.text

    def note(
        sheet: CardSheet, left: float, top: float, text: str, size: float, **look: Any
    ) -> None:
        said.append(text)
        write(sheet, left, top, text, size, **look)

    monkeypatch.setattr(CardSheet, "text", note)
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
        assert said.count("Bulb") == sum(row.time_s is not None for row in plan.rows) - sum(
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


def test_a_card_that_is_there_is_not_written_over_unasked(tmp_path: Path) -> None:
    plan, card = plan_nd_time("4", stops=[6]), tmp_path / "card.png"
    card.write_bytes(b"mine")
    with pytest.raises(WrongCall, match="--replace"):
        write_card(plan, card)
    assert card.read_bytes() == b"mine"
    (tmp_path / "link.png").symlink_to(tmp_path / "nowhere")
    with pytest.raises(WrongCall, match="--replace"):
        write_card(plan, tmp_path / "link.png")
    write_card(plan, card, replace=True)
    assert card.read_bytes().startswith(b"\x89PNG")


def test_the_kits_card_lies_on_its_side_and_says_times_and_cautions(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    kit = plan_kit(filters=["six=6.2", "big=9.8"])
    said = texts(kit, monkeypatch)
    assert {"A", "B", "A+B", "6.2 stops", "16.0 stops", "1/500 s", "8 s", "2′08″"} <= set(said)
    told = " ".join(said)
    assert "no eye protection" in told
    assert "tides" in told
    with Image.open(io.BytesIO(build_card(kit, "png"))) as card:
        assert card.size == (1748, 1240)


def test_a_kit_of_eight_hostile_filters_stays_on_its_card(monkeypatch: pytest.MonkeyPatch) -> None:
    names = [f"{HOSTILE.name}{number}={number + 1}" for number in range(8)]
    kit = plan_kit(filters=names, drift_stops_per_min=-0.1)
    lowest: list[float] = []
    lines = CardSheet.lines

    def note(sheet: CardSheet, top: float, told: Any, colour: Any) -> None:
        lowest.append(top + 3.3 * len(told))
        lines(sheet, top, told, colour)

    monkeypatch.setattr(CardSheet, "lines", note)
    assert build_card(kit, "pdf").startswith(b"%PDF-")
    assert max(lowest) <= 105.0, "the last line lies on the paper"


def test_names_of_a_kit_and_of_a_stack_are_not_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    names = ["the thin one for bright evenings with wind and spray from the left=3", "thick=10"]
    said = texts(plan_kit(filters=names), monkeypatch)
    assert any("wind and spray from the left: " in text for text in said)
    assert not any("…" in text for text in said)
    stack = [
        KnownFilter(f"the {word} one of the tin box in the car", {"G": 6.0}, 0.1, {},
                    nearest_marking(6.0), 4)
        for word in ("first", "second")
    ]  # fmt: skip
    plan = plan_nd_time("1/8", filters=[one.name for one in stack], known=stack)
    told = " ".join(texts(plan, monkeypatch))
    for one in stack:
        assert one.name in told
    assert "…" not in told
