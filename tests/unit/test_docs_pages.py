"""The documentation against the code: nothing stale, nothing missing, no link to nowhere."""

from __future__ import annotations

import json
import re
import shlex
from dataclasses import fields
from importlib.resources import files
from pathlib import Path

import pytest

from auditor.api import nd_time
from auditor.black import limits as black_limits
from auditor.clipping.limits import SMALL_LOSS
from auditor.commands.settings import OwnSettings, with_file
from auditor.defects import limits as defect_limits
from auditor.figures import limits as figure_limits
from auditor.group import limits as group_limits
from auditor.group.limits import GRAD_LEAST_STOPS
from auditor.history.limits import CAST_SCALE_STOPS, LEAST_FRAMES
from auditor.light.exposure import GREY_SHARE
from auditor.model.numbers import share_text
from auditor.model.settings import Settings
from auditor.noise import limits as noise_limits
from auditor.print.fit import paper_range_stops
from auditor.sidecar.marks import read_marks
from auditor.words.kinds import KINDS
from auditor.words.unread import FAILURE_CODES
from tests.docs_commands import HELP, Command, commands, top_options
from tests.docs_examples import EXAMPLES
from tests.docs_maker import REFERENCE, build_reference
from tests.docs_text import DOCS, ROOT, anchors, blocks, command_lines, links, pages, prose

NAMES = [page.name for page in pages()]
CAUTIONED = ("tutorial", "howto-card", "howto-filters", "howto-new-camera", "measures", "python",
             "index", "reference")  # fmt: skip
"""Pages whose advice touches the sun, the tide or dark ground."""


def page(name: str) -> Path:
    return next(path for path in pages() if path.name == name)


def all_lines() -> list[str]:
    return [line for path in pages() for line in command_lines(path)]


def words_of(line: str) -> tuple[str, set[str]]:
    """The command of a line, and the options in it."""
    words = shlex.split(line)[1:]
    name = "" if words[0].startswith("-") else words[0]
    return name, {word for word in words if re.fullmatch(r"--?[a-z][a-z-]*", word)}


def test_the_reference_is_what_the_code_makes() -> None:
    assert REFERENCE.read_text(encoding="utf-8") == build_reference(), (
        "stale: run python -m tests.docs_maker"
    )


def test_the_documentation_is_part_of_the_package() -> None:
    shipped = {entry.name for entry in files("auditor").joinpath("docs").iterdir()}
    assert {path.name for path in DOCS.glob("*.md")} <= shipped
    assert "index.md" in shipped


@pytest.mark.parametrize("command", commands(), ids=lambda command: command.name)
def test_every_command_and_option_has_an_example(command: Command) -> None:
    used = [options for name, options in map(words_of, all_lines()) if name == command.name]
    assert used
    told = set().union(*used)
    assert not {one.name for one in command.options if not told & set(one.names)}
    assert told & set(HELP)


@pytest.mark.parametrize("command", commands(), ids=lambda command: command.name)
def test_the_reference_names_every_option(command: Command) -> None:
    text = REFERENCE.read_text(encoding="utf-8")
    section = text.partition(f"### `auditor {command.name}`")[2].partition("\n### ")[0]
    for one in command.parameters:
        assert all(f"`{name}`" in section for name in one.names), one
        assert one.help.replace("|", "\\|") in section
    assert all(line in section for line, _ in EXAMPLES[command.name])


def test_no_line_calls_what_is_not_there() -> None:
    known = {command.name: command for command in commands()}
    top = {name for one in top_options() for name in one.names} | set(HELP)
    for line in all_lines():
        name, options = words_of(line)
        own = {n for one in known[name].options for n in one.names} | set(HELP) if name else top
        assert options <= own, line


def test_every_example_of_the_help_stands_in_the_documentation() -> None:
    assert {line for command in commands() for line in command.examples} <= set(all_lines())


def test_every_finding_failure_and_setting_stands_in_the_reference() -> None:
    text = REFERENCE.read_text(encoding="utf-8")
    for code, kind in KINDS.items():
        assert f"### `{code}`" in text
        assert kind.next_time in text
        assert kind.caution in text
    assert all(f"| `{code}` | {told}" in text for code, told in FAILURE_CODES.items())
    for section in fields(Settings):
        record = getattr(Settings(), section.name)
        assert all(f"| `{entry.name}` |" in text for entry in fields(record))


@pytest.mark.parametrize("name", NAMES)
def test_every_link_leads_somewhere(name: str) -> None:
    here = page(name)
    for target in links(here):
        if re.match(r"[a-z]+:", target):
            continue
        path, _, anchor = target.partition("#")
        there = (here.parent / path).resolve() if path else here
        assert there.is_file(), target
        assert there.is_relative_to(ROOT)
        assert not anchor or anchor in anchors(there), target


def test_the_index_leads_to_every_page_and_the_readme_to_the_index() -> None:
    led = {target.partition("#")[0] for target in links(DOCS / "index.md")}
    assert {path.name for path in DOCS.glob("*.md")} - {"index.md"} <= led
    assert "auditor/docs/index.md" in links(ROOT / "README.md")


@pytest.mark.parametrize("name", CAUTIONED)
def test_a_caution_stands_where_the_advice_touches_sun_tide_or_dark_ground(name: str) -> None:
    text = (DOCS / f"{name}.md").read_text(encoding="utf-8")
    cautions = "\n".join(re.findall(r"^>.*|^- .*|^\*Caution:\*.*", text, re.MULTILINE))
    assert re.search(r"no eye|protects? no\s+(>\s+)?eye|no\s+(>\s+)?eye\s+protection", cautions)


def test_settings_in_the_documentation_can_be_read(tmp_path: Path) -> None:
    found = [
        block
        for path in pages()
        for block in blocks(path)
        if block.language == "toml" and "[project]" not in block.text
    ]
    assert found
    for block in found:
        (tmp_path / "docs.toml").write_text(block.text, encoding="utf-8")
        assert with_file(OwnSettings(), tmp_path / "docs.toml") != OwnSettings()


def test_the_marks_in_the_reference_are_marks(tmp_path: Path) -> None:
    (block,) = [block for block in blocks(REFERENCE) if block.language == "json"]
    (tmp_path / "marks.json").write_text(block.text, encoding="utf-8")
    assert [mark.mark for mark in read_marks(tmp_path / "marks.json").marks] == ["keep", None]
    assert json.loads(block.text)["schema"] in REFERENCE.read_text(encoding="utf-8")


def test_figures_in_the_measures_are_those_of_the_code() -> None:
    text, judge, paper = prose(DOCS / "measures.md"), Settings().judge, Settings().print
    for phrase in (
        f"all but {share_text(judge.bright_share)} of a plane stays **under**",
        f"all but {100 * judge.dark_share:g} % stays **over**",
        f"no patch reaches `patch_limit` ({share_text(judge.patch_limit)} of the frame)",
        f"all of it is under `blown_limit` ({100 * judge.blown_limit:g} %)",
        f"all of it is under `SMALL_LOSS` ({share_text(SMALL_LOSS)})",
        f"with a patch from {share_text(SMALL_LOSS)} on",
        f"From {100 * judge.blocked_limit:g} % on the frame is called *blocked*",
        f"from {100 * noise_limits.DARK_FRAME_BLOCKED:g} % on it is a *dark frame*",
        f"more than {black_limits.TRUSTED_ERRORS:g} of its own standard errors",
        f"more than {100 * black_limits.LARGEST_CORRECTION:g} % of the range off",
        f"at least {defect_limits.HOT_SIGMAS:g} standard deviations",
        f"hot in at least {defect_limits.LASTING_FRAMES:g} frames and 2 views",
        f"beyond {figure_limits.DEEPEST_STOPS:g} stops under it is empty",
        f"up to {100 * group_limits.SHIFT_LIMIT:g} % of the longer side",
        f"grey is {100 * GREY_SHARE:.1f} % of it",
        f"weaker than {Settings().group.filter_least_stops:g} stop",
        f"Weaker than {GRAD_LEAST_STOPS:g} stop",
        f"{CAST_SCALE_STOPS:g} stop in cast",
        f"{paper_range_stops(paper.paper_dmax, paper.paper_dmin):.1f} with the defaults "
        f"{paper.paper_dmax:.1f} and {paper.paper_dmin:g}",
    ):
        assert phrase in text, phrase
    assert float(LEAST_FRAMES) == 8
    assert "reported from eight frames on" in text


def test_the_time_behind_a_filter_is_that_of_the_calculator() -> None:
    measured, marked = (nd_time("1/15", stops=[stops]).answer for stops in (9.7, 10.0))
    assert (measured[:9], marked[:12]) == ("Bulb 52 s", "Bulb 1 min 4")
    assert "For a filter of 9.7 stops that is 52 s instead of 64:" in prose(
        DOCS / "howto-filters.md"
    )


def test_the_sums_of_the_archive_add_up() -> None:
    text = prose(DOCS / "howto-archive.md")
    core_s, file_mb, kept_mb, million = 1.3, 46, 0.3, 1e6
    by_cores, by_network = 160 / core_s, 1250 / file_mb
    for phrase in (
        f"a file of {file_mb} MB",
        f"took {core_s} s of one core",
        f"about {kept_mb} MB",
        f"÷ {core_s} s = {by_cores:.0f} frames/s | {million / by_cores / 3600:.1f} h |",
        f"÷ {file_mb} MB = {by_network:.0f} frames/s | {million / by_network / 3600:.1f} h |",
        f"{million * 128 * 1024 / 1e9:.0f} GB in all | at 500 files/s {million / 500 / 3600:.1f} h",
        f"× {kept_mb} MB = {by_network * kept_mb:.0f} MB/s | {million * kept_mb / 1e6:g} TB",
        f"{round(by_network * 3.6):d},000 frames an hour",
        f"× {core_s} = {by_network * core_s:.0f} cores busy",
        f"{by_cores * file_mb / 1000:.1f} GB/s, which is {by_cores * file_mb * 8e-3:.0f} Gbit/s",
    ):
        assert phrase in text, phrase
