"""Every command line and every block of Python in the documentation is run."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from distributed.cli import dask_scheduler, dask_worker

from tests import python_session
from tests.cluster_machines import Cluster
from tests.docs_text import DOCS, blocks, command_lines, pages
from tests.docs_world import SCHEDULER, World, empty_world, make_world
from tests.evening_audit import Evening

ANSWERS = {
    "auditor nd-time 4 --stops 6": "4 min 16 s",
    "auditor nd-time 1/15 --stops 10 --card pocket.pdf": "1 min 4 s",
    'auditor nd-time 1/15 --filter "about 10 stops"': "behind 9.7 stops",
    "auditor nd-time 1/8 --stops 10 --drift -0.2": "2 min 32 s",
    "auditor nd-time 1/8 --stops 6 --density 0.9": "1 min 4 s",
    "auditor nd-time 1/8 --density 3.0 --stops 3 --drift -0.2": "falls too fast",
    "auditor history": "about 10 stops, cool",
    "auditor explain blown-area": "Next time",
    "auditor apply marks.json --to /photos/evening --dry-run": "Nothing was written",
    "auditor history --verify": "whole",
    "auditor audit /media/card --out evening": "4  filtered frames paired with a short one",
}
"""What the pages say, or lead one to expect, that a line answers."""


@pytest.fixture(scope="session")
def world(evening: Evening, tmp_path_factory: pytest.TempPathFactory) -> World:
    return make_world(tmp_path_factory.mktemp("docs"), evening)


@pytest.fixture(scope="session")
def scheduler(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    cluster = Cluster(tmp_path_factory.mktemp("docs-cluster"))
    cluster.add_worker()
    yield cluster.address
    cluster.close()


SESSIONS = tuple(page for page in pages() if page.name != "reference.md" and command_lines(page))
"""Pages that are read from the top: each is run as a whole by a reader with a card and no more."""


def lines_of_the_reference() -> list[str]:
    """Its examples stand each by itself, where much is remembered."""
    return list(dict.fromkeys(command_lines(DOCS / "reference.md")))


@pytest.fixture
def typed(
    request: pytest.FixtureRequest,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> Callable[[World, str], None]:
    """Types a line, and looks at what it answers."""

    def run(world: World, line: str) -> None:
        on_cluster = "--cluster" in line
        address = request.getfixturevalue("scheduler") if on_cluster else ""
        status = world.run(line, monkeypatch, address)
        shown = capsys.readouterr()
        assert status == 0, f"{line}: {shown.err}"
        assert "Traceback" not in shown.err
        assert ANSWERS.get(line, "") in " ".join(shown.out.split()) + shown.out
        assert not on_cluster or "measured before" not in shown.err

    return run


@pytest.mark.parametrize("page", SESSIONS, ids=lambda page: page.name)
def test_every_page_runs_from_an_empty_home(
    page: Path, typed: Callable[[World, str], None], evening: Evening, tmp_path: Path
) -> None:
    world = empty_world(tmp_path, evening)
    for line in command_lines(page):
        typed(world, line)


@pytest.mark.parametrize("line", lines_of_the_reference())
def test_every_example_of_the_reference_runs(
    line: str, typed: Callable[[World, str], None], world: World
) -> None:
    typed(world, line)


def test_every_expected_answer_belongs_to_a_line() -> None:
    assert set(ANSWERS) <= {line for page in pages() for line in command_lines(page)}


def test_blocks_of_python_print_what_stands_below_them(evening: Evening, tmp_path: Path) -> None:
    """From a reader's state: a card and an empty home."""
    kept = python_session.PAGE.read_text(encoding="utf-8")
    assert python_session.run(empty_world(tmp_path, evening)) == kept, (
        "python -m tests.python_session"
    )
    assert kept.count("```python") == kept.count("```text") > 5


def test_no_line_is_passed_over() -> None:
    """Lines of shell scripts apart, which a test of their own runs."""
    for page in pages():
        text = page.read_text(encoding="utf-8")
        for block in blocks(page):
            text = text.replace(block.text, "") if block.language == "sh" else text
        typed = [line.strip().removeprefix(".venv/bin/") for line in text.splitlines()]
        assert {line for line in typed if line.startswith("auditor ")} <= set(command_lines(page))


def test_the_loop_over_an_archive_runs(world: World, scheduler: str) -> None:
    loop = next(
        block.text
        for block in blocks(DOCS / "howto-archive.md")
        if block.language == "sh" and "for shoot" in block.text
    )
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    ended = subprocess.run(
        ["sh", "-eu", "-c", world.inside(loop).replace(SCHEDULER, scheduler)],
        cwd=world.root, env={**os.environ, "PATH": path}, timeout=120, check=False,
    )  # fmt: skip
    assert ended.returncode == 0
    assert (world.root / "pages" / "first" / "report.html").is_file()


def test_the_cluster_commands_of_the_how_to_are_those_of_dask() -> None:
    shown = "\n".join(b.text for b in blocks(DOCS / "howto-archive.md") if b.language == "sh")
    for module, options in (
        (dask_scheduler, ("--port",)),
        (dask_worker, ("--nworkers", "--nthreads")),
    ):
        known = {name for option in module.main.params for name in option.opts}
        for option in options:
            assert option in shown
            assert option in known


def test_a_file_that_is_written_is_told_in_the_reference(evening: Evening) -> None:
    text = (DOCS / "reference.md").read_text(encoding="utf-8")
    section = text.partition("## Files written")[2].partition("\n## ")[0]
    for path in evening.out.rglob("*"):
        relative = path.relative_to(evening.out)
        known = f"`{relative}`" in section or relative.parts[0] in ("sheets", "report-pictures")
        assert known or path.is_dir() or relative.name.startswith("contact-sheet"), relative
