"""Every command line and every block of Python in the documentation is run."""

from __future__ import annotations

import contextlib
import io
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from distributed.cli import dask_scheduler, dask_worker

from tests.cluster_machines import Cluster
from tests.docs_text import DOCS, Block, blocks, command_lines, pages
from tests.docs_world import SCHEDULER, World, make_world
from tests.evening_audit import Evening

ANSWERS = {
    "auditor nd-time 4 --stops 6": "4 min 16 s",
    "auditor nd-time 1/15 --stops 10 --card pocket.pdf": "1 min 4 s",
    'auditor nd-time 1/15 --filter "about 10 stops"': "52 s behind 9.7 stops",
    "auditor nd-time 1/8 --stops 10 --drift -0.2": "2 min 32 s",
    "auditor nd-time 1/8 --stops 6 --density 0.9": "1 min 4 s",
    "auditor nd-time 1/8 --density 3.0 --stops 3 --drift -0.2": "falls too fast",
    "auditor history": "about 10 stops, cool",
    "auditor explain blown-area": "Next time",
    "auditor apply marks.json --to /photos/evening --dry-run": "Nothing was written",
    "auditor history --verify": "whole",
    "auditor audit /media/card --out evening": "3  filtered frames paired with a short one",
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


def unique_lines() -> list[str]:
    """Every line once, in the order of the pages."""
    return list(dict.fromkeys(line for page in pages() for line in command_lines(page)))


@pytest.mark.parametrize("line", unique_lines())
def test_every_line_of_the_documentation_runs(
    line: str,
    world: World,
    request: pytest.FixtureRequest,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    on_cluster = "--cluster" in line
    address = request.getfixturevalue("scheduler") if on_cluster else ""
    assert world.run(line, monkeypatch, address) == 0
    shown = capsys.readouterr()
    assert "Traceback" not in shown.err
    assert ANSWERS.get(line, "") in " ".join(shown.out.split()) + shown.out
    assert not on_cluster or "measured before" not in shown.err


def test_every_expected_answer_belongs_to_a_line() -> None:
    assert set(ANSWERS) <= set(unique_lines())


def test_blocks_of_python_print_what_stands_below_them(
    evening: Evening,
    tmp_path_factory: pytest.TempPathFactory,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    world = make_world(tmp_path_factory.mktemp("python"), evening)
    world.enter(monkeypatch)
    names: dict[str, Any] = {"__name__": "notebook"}
    parts = blocks(DOCS / "python.md")
    assert len(parts) > 10
    for code, printed in pairs(parts):
        shown = io.StringIO()
        with contextlib.redirect_stdout(shown):
            exec(compile(world.inside(code.text), "python.md", "exec"), names)
        assert shown.getvalue() == printed.text


def pairs(parts: tuple[Block, ...]) -> Iterator[tuple[Block, Block]]:
    """Each block of code with the block of text that it prints."""
    assert [part.language for part in parts] == ["python", "text"] * (len(parts) // 2)
    return zip(parts[::2], parts[1::2], strict=True)


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
