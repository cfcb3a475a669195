"""The example package of the docs, installed beside the program, does what the page says."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from tests.built_dng import flat, write_dng
from tests.docs_text import DOCS

PAGE = (DOCS / "howto-extend.md").read_text(encoding="utf-8")


def block(language: str) -> str:
    found = re.search(rf"^```{language}\n(.*?)^```", PAGE, re.MULTILINE | re.DOTALL)
    assert found
    return found[1]


def install(site: Path, code: str) -> None:
    """Lay a package out as an installer does."""
    project = tomllib.loads(block("toml"))["project"]
    told = site / f"coast_extras-{project['version']}.dist-info"
    told.mkdir(parents=True)
    (told / "METADATA").write_text(
        f"Metadata-Version: 2.1\nName: {project['name']}\nVersion: {project['version']}\n"
    )
    lines = [
        f"[{group}]\n" + "".join(f"{name} = {value}\n" for name, value in points.items())
        for group, points in project["entry-points"].items()
    ]
    (told / "entry_points.txt").write_text("".join(lines))
    (site / "coast_extras.py").write_text(code, encoding="utf-8")


def run(site: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "auditor", *words],
        env={**os.environ, "PYTHONPATH": str(site)},
        capture_output=True, text=True, timeout=600, check=False,
    )  # fmt: skip


@pytest.fixture
def card(tmp_path: Path) -> Path:
    (tmp_path / "card").mkdir()
    write_dng(tmp_path / "card" / "A_0001.DNG", flat())
    return tmp_path / "card"


def test_the_example_adds_its_finding_and_its_format(card: Path, tmp_path: Path) -> None:
    install(tmp_path / "site", block("python"))
    out = tmp_path / "out"
    ended = run(tmp_path / "site", "audit", str(card), "--out", str(out), "--no-store",
                "-f", "json,geojson,csv,html")  # fmt: skip
    assert ended.returncode == 0, ended.stderr
    (frame,) = json.loads((out / "audit.json").read_bytes())["frames"]
    (told,) = [one for one in frame["findings"] if one["code"] == "no-position"]
    assert told["text"].startswith("The file holds no position")
    assert json.loads((out / "positions.geojson").read_bytes())["type"] == "FeatureCollection"
    assert "no-position" in (out / "frames.csv").read_text()
    assert "No position" in (out / "report.html").read_text()
    assert "Give the place" in run(tmp_path / "site", "explain", "no-position").stdout


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("import json", "import jsom", "coast-extras: its extension"),
        (
            "view.result.position",
            "view.result.place",
            "the extension of the finding no-position failed",
        ),
        ('Finding("no-position"', 'Finding("other"', "told another code"),
        ('code="no-position"', 'code="blown-area"', "which there is"),
    ],
)
def test_an_extension_that_fails_is_named_and_nothing_is_written(
    old: str, new: str, told: str, card: Path, tmp_path: Path
) -> None:
    install(tmp_path / "site", block("python").replace(old, new))
    ended = run(tmp_path / "site", "audit", str(card), "--out", str(tmp_path / "out"),
                "--no-store", "-f", "json")  # fmt: skip
    assert ended.returncode == 2
    assert told in ended.stderr
    assert "Traceback" not in ended.stderr
    assert not (tmp_path / "out" / "audit.json").exists()
