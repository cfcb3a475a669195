"""What "To add" in DEVELOPERS.md promises, followed to the letter on a copy of the house.

A toy measure: a file in its subject's room, a line in the table, a field with a default. A toy
finding: a code, a rule in the subject's findings, a line in the rules, its meaning, its sentence.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

import auditor
from tests.built_dng import clipping_ramp, write_dng

ROOT = Path(auditor.__file__).parent.parent

MEASURE = '''"""A toy: the share of even raw values on the first plane."""

from auditor.measures.frame import FrameView


def even_share(frame: FrameView) -> float:
    """Return the share of pixels with an even DN."""
    histogram = frame.mosaic.counted.histograms[0]
    first = histogram.first_dn % 2
    return float(histogram.counts[first::2].sum() / histogram.total)
'''

LINE = """    Measure(
        name="evens", version=1, function="auditor.detail.evens.even_share", fields=("evens",)
    ),
"""

RULE = '''

def find_toy(view: FrameView) -> Iterator[Finding]:
    """Tell that a frame was measured."""
    if view.result.status == FrameStatus.MEASURED:
        yield finding(FindingCode.TOY, Severity.NOTE, 1.0)
'''

KIND = """    FindingKind(
        code=FindingCode.TOY,
        title="A toy",
        severity=Severity.NOTE,
        meaning="The frame was measured.",
        measured="By being there.",
        next_time="Nothing.",
    ),
"""

SENTENCE = """        case FindingCode.TOY:
            return f"A toy was found {f.number('value'):.0f} time."
"""

ASK = """
import sys
from pathlib import Path
from auditor.model.settings import MeasureSettings
from auditor.store.store import Store

with Store.open(Path(sys.argv[1])) as store:
    (key,) = store._connection.execute("SELECT content_key FROM frame LIMIT 1").fetchone()
    print(store.get(key, MeasureSettings()).evens)
"""


def insert(path: Path, before: str, text: str) -> None:
    content = path.read_text(encoding="utf-8")
    assert content.count(before) == 1, f"{path}: {before}"
    path.write_text(content.replace(before, text + before), encoding="utf-8")


def follow_the_recipes(house: Path) -> None:
    package = house / "auditor"
    (package / "detail" / "evens.py").write_text(MEASURE, encoding="utf-8")
    insert(package / "model" / "measures.py", ')\n"""In the order in which', LINE)
    insert(
        package / "model" / "measurement.py",
        "    shading: LensShading | None = None\n",
        "    evens: float | None = None\n",
    )
    insert(package / "model" / "findings.py", '    HOT_PIXELS = "', '    TOY = "toy-finding"\n')
    rules = package / "defects" / "findings.py"
    insert(rules, "from auditor.model.findings", "from auditor.model.codes import FrameStatus\n")
    with rules.open("a", encoding="utf-8") as findings:
        findings.write(RULE)
    insert(package / "rules.py", "    find_hot_pixels,\n    find_may", "    find_toy,\n")
    insert(package / "rules.py", "    find_hot_pixels,\n    find_dark", "    find_toy,\n")
    words = package / "words"
    insert(words / "kinds.py", "    FindingKind(\n        code=FindingCode.HOT_PIXELS", KIND)
    insert(words / "findings.py", "        case FindingCode.HOT_PIXELS:", SENTENCE)


def forbid_other_measures(house: Path) -> None:
    """From here on, whoever looks for damage or holds the preview against anything fails."""
    for file, head in (
        ("defects/damage.py", "def find_damage("),
        ("preview/measure.py", "def measure_preview("),
        ("detail/texture.py", "def detail_map("),
    ):
        path = house / "auditor" / file
        content = path.read_text(encoding="utf-8")
        assert head in content
        name = head.removeprefix("def ").rstrip("(")
        more = f"\n\ndef {name}(*_):  # noqa\n    raise AssertionError('measured again')\n"
        path.write_text(content + more, encoding="utf-8")


def run(house: Path, *words: str) -> str:
    ended = subprocess.run(
        [sys.executable, "-m", "auditor", *words],
        cwd=house, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert ended.returncode == 0, ended.stderr
    return ended.stdout


def rows(store: Path) -> dict[tuple[int, str], int]:
    """Return the row of each measure of each frame: a new one each time that it is kept."""
    with closing(sqlite3.connect(store)) as connection:
        asked = connection.execute("SELECT frame_id, name, id FROM measure").fetchall()
        return {(frame, name): row for frame, name, row in asked}


@pytest.fixture
def house(tmp_path: Path) -> Path:
    """A copy of the house, with a card of three frames that it has audited."""
    copy = tmp_path / "house"
    shutil.copytree(ROOT / "auditor", copy / "auditor", ignore=shutil.ignore_patterns("*.pyc"))
    (tmp_path / "card").mkdir()
    for number in range(3):
        write_dng(tmp_path / "card" / f"F45_{number:04d}.DNG", clipping_ramp((96, 144), number))
    run(copy, *call(tmp_path))
    return copy


def call(root: Path) -> tuple[str, ...]:
    return (
        "audit", str(root / "card"), "--out", str(root / "out"), "--store",
        str(root / "store.sqlite"), "--format", "json", "--workers", "1",
    )  # fmt: skip


def test_a_new_measure_fills_its_gap_and_a_new_finding_is_told(house: Path, tmp_path: Path) -> None:
    store = tmp_path / "store.sqlite"
    before = rows(store)
    learnt = levels(store)
    assert learnt
    follow_the_recipes(house)
    forbid_other_measures(house)
    run(house, *call(tmp_path))
    after = rows(store)
    assert {key: after[key] for key in before} == before
    assert {name for _, name in after.keys() - before.keys()} == {"evens"}
    assert len(after) == len(before) + 3
    assert levels(store) == learnt
    written = json.loads((tmp_path / "out" / "audit.json").read_text(encoding="utf-8"))
    codes = [[found["code"] for found in frame["findings"]] for frame in written["frames"]]
    assert all("toy-finding" in told for told in codes)
    assert "A toy" in run(house, "explain", "toy-finding")
    told = subprocess.run(
        [sys.executable, "-c", ASK, str(store)],
        cwd=house, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert 0.4 < float(told.stdout) < 0.6


def levels(store: Path) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(store)) as connection:
        return connection.execute("SELECT * FROM pile_up ORDER BY rowid").fetchall()


def test_the_recipe_says_what_is_followed_here() -> None:
    recipe = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## To add")[2]
    of_measures = ("model/measures.py", "model/measurement.py", "measures/frame.py")
    of_findings = ("model/findings.py", "rules.py", "words/kinds.py", "words/findings.py")
    for file in (*of_measures, *of_findings):
        assert file in recipe.partition("##")[0]
