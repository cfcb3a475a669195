"""The drawings in the docs are those that the audit of the evening gives today."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from tests.drawings_maker import FOLDER, draw_all
from tests.evening_audit import Evening

NAMES = sorted(path.name for path in FOLDER.glob("*.svg"))
NEAR_PX = 1.0
"""Other versions of the library that draws round otherwise."""


@pytest.fixture(scope="module")
def drawn(evening: Evening, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("drawings")
    draw_all(evening, folder)
    return folder


def words(svg: str) -> list[str]:
    return re.findall(r"<text[^>]*>([^<]*)</text>", svg)


def numbers(svg: str) -> list[float]:
    lines = re.findall(r' d="([^"]*)"| (?:x|y)="([^"]*)"', svg)
    return [float(one) for line in lines for one in re.findall(r"-?\d+\.?\d*", " ".join(line))]


def is_same(old: str, new: str) -> bool:
    one, other = numbers(old), numbers(new)
    return (
        words(old) == words(new)
        and len(one) == len(other)
        and bool(np.allclose(one, other, rtol=0.0, atol=NEAR_PX))
    )


@pytest.mark.parametrize("name", NAMES)
def test_a_drawing_is_that_of_the_evening(drawn: Path, name: str) -> None:
    old, new = ((folder / name).read_text("utf-8") for folder in (FOLDER, drawn))
    assert words(old)
    assert is_same(old, new), "out of date: python -m tests.drawings_maker"


def test_every_drawing_is_made_and_an_old_one_would_be_seen(drawn: Path) -> None:
    assert sorted(path.name for path in drawn.iterdir()) == NAMES
    svg = (FOLDER / NAMES[0]).read_text("utf-8")
    assert not is_same(svg, svg.replace(words(svg)[0], "another word"))
    moved = re.sub(r' d="M (\d+)', lambda found: f' d="M {int(found[1]) + 3}', svg)
    assert moved != svg
    assert not is_same(svg, moved)
