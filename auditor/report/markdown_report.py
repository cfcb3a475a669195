"""``report.md``: the audit in plain words, for notes, issues and mail."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import chain

from auditor.model.audit import Audit
from auditor.model.codes import FrameStatus
from auditor.model.text import listed
from auditor.report.frame_names import short_names, with_short_names
from auditor.report.page_records import Page
from auditor.report.setup_records import SetupSheet
from auditor.words.next_time import next_times
from auditor.words.page import nothing_to_compare
from auditor.words.values import sentence

MOST_NAMED = 12
"""Frames named behind a lesson; the table of all frames tells the others."""

_ACTIVE = re.compile(r"([\\`*_\[\]<>|~&$#!{}^])")
"""Characters that mean something anywhere in a line (CommonMark, tables, common extensions)."""

_LINK_STARTS = re.compile(r"(?i)((?<=www)\.|:(?=//)|@)")
"""Where bare addresses are made into links."""

_LINE_STARTS = re.compile(r"^(\d*)([-+=:.)])(?=\s|$|[-=:])")
"""What starts a list, a rule or an underlined heading."""


def markdown_parts(audit: Audit, page: Page) -> Iterator[bytes]:
    """Yield the audit as Markdown with tables, UTF-8, block by block.

    Every text from a file is escaped: none becomes markup, a link or a table cell.
    """
    blocks = chain(_opening(page), _next_time(audit, page), _setups(page), _figures(page))
    yield next(blocks).encode("utf-8")
    for block in blocks:
        yield f"\n\n{block}".encode()
    yield b"\n"


def escaped(text: str) -> str:
    """Return text that Markdown shows as it is, on one line."""
    line = " ".join(text.split())
    line = _ACTIVE.sub(r"\\\1", line)
    line = _LINK_STARTS.sub(r"\\\1", line)
    return _LINE_STARTS.sub(r"\1\\\2", line)


def _opening(page: Page) -> Iterator[str]:
    yield f"# {escaped(page.title)}"
    yield escaped(f"{page.when}. {page.made}.")
    yield from map(escaped, page.summary)
    if page.tallies:
        yield _table(("Verdict", "Frames"), ((t.text, str(t.count)) for t in page.tallies))
    if page.lessons:
        yield "## Worth acting on"
    for lesson in page.lessons:
        named = [_name(page, frame) for frame in lesson.frames[:MOST_NAMED]]
        more = len(lesson.frames) - MOST_NAMED
        named += [f"{more} more"] if more > 0 else []
        where = f" {escaped(f'Frames: {listed(named)}.')}" if named else ""
        caution = f" Caution: {escaped(lesson.caution)}" if lesson.caution else ""
        evidence = f" {escaped(sentence(lesson.evidence))}" if lesson.evidence else ""
        yield f"- **{escaped(lesson.text)}**{evidence}{where}{caution}"
    yield "## Cautions"
    yield _list(page.cautions)


def _next_time(audit: Audit, page: Page) -> Iterator[str]:
    """Yield the settings for next time: what belongs together at once, its reasons under it."""
    told = next_times(audit.setups)
    if told:
        yield "## Next time, set-up by set-up"
    names = short_names(audit.frames)
    lines = []
    for setups, advice in told:
        lines.append(_list([f"{setups}: {advice.text}."]))
        lines += [f"  {_list([with_short_names(line, names)])}" for line in advice.why]
    yield from ["\n".join(lines)] if lines else []
    for plan in page.plans:
        yield f"## {plan.title}"
        yield from [plan.note] if plan.note else []
        yield _list(plan.lines)


def _setups(page: Page) -> Iterator[str]:
    if page.setups or page.panoramas:
        yield "## Set-ups"
    telling = [setup for setup in page.setups if setup.tells_something]
    for setup in telling:
        yield f"### {setup.number}. {escaped(setup.title)}"
        yield escaped(setup.about)
        lines = list(_setup_lines(page, setup))
        if lines:
            yield "\n".join(lines)
    rest = len(page.setups) - len(telling)
    if rest:
        yield escaped(nothing_to_compare(rest))
    for run in page.panoramas:
        yield f"### {escaped(run.title)}"
        yield _list([run.sentence, *run.notes])


def _setup_lines(page: Page, setup: SetupSheet) -> Iterator[str]:
    """Yield a bullet for each thing found, with what is told of it one level under it."""
    for pair in setup.pairs:
        if pair.best:
            names = f"{_name(page, pair.short)} and {_name(page, pair.long)}"
            facts = (
                f"{fact.label}: {fact.text}{f' ({fact.remark})' if fact.remark else ''}"
                for fact in pair.facts
                if fact.text
            )
            yield from _nested(f"{pair.title} ({names}): {pair.sentence}", facts)
    for bracket in setup.brackets:
        yield _list([f"{bracket.title}: {bracket.sentence}"])
    yield from (_list([line]) for line in (*(g.sentence for g in setup.grads), *setup.skies))
    for keeper in setup.keepers:
        why = " ".join(sentence(reason) for reason in keeper.why)
        told = f"{keeper.kind}: {_name(page, keeper.frame)}. {why}"
        yield from _nested(told, [keeper.print.sentence] if keeper.print else [])
    yield from (_list([note]) for note in setup.notes)


def _nested(line: str, under: Iterable[str]) -> Iterator[str]:
    yield _list([line])
    yield from (f"  {_list([part])}" for part in under if part)


def _figures(page: Page) -> Iterator[str]:
    """Yield the table of all frames, what was not read, and what the words and settings mean."""
    yield "## Frames"
    yield _table(
        ("Frame", "Taken", "Exposure", "Verdict", "Blown", "Blocked", "Headroom", "Range",
         "Findings"),
        (
            (f.name, f.taken_text, f.exposure_text, f.verdict_text, f.blown_text, f.blocked_text,
             f.spare_text, f.range_text, " ".join(finding.text for finding in f.findings))
            for f in page.frames
            if f.status == FrameStatus.MEASURED
        ),
    )  # fmt: skip
    if page.unreadable:
        yield "## Files that could not be read"
        yield _table(("File", "Why"), ((f.place, f.error_text) for f in page.unreadable))
    found = [entry for entry in page.legend if entry.count]
    if found:
        yield "## What the findings mean"
        yield _table(
            ("Finding", "Frames", "Meaning", "Measured", "Next time"),
            (
                (
                    e.title,
                    str(e.count),
                    e.meaning,
                    e.measured,
                    f"{e.next_time} {'Caution: ' + e.caution if e.caution else ''}",
                )
                for e in found
            ),
        )
    yield "## Definitions"
    yield _table(("Word", "Meaning"), ((f.label, f"{f.text} {f.remark}") for f in page.definitions))
    yield "## Settings"
    yield _table(
        ("Setting", "Value", "What it does"), ((s.name, s.value, s.meaning) for s in page.settings)
    )
    notes = [*page.sun_lines, *page.notes]
    if notes:
        yield "## Notes"
        yield _list(notes)


def _name(page: Page, frame_id: str) -> str:
    frame = page.by_id.get(frame_id)
    return frame.name if frame else ""


def _list(lines: Iterable[str]) -> str:
    return "\n".join(f"- {escaped(line)}" for line in lines if line)


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [_row(head), _row(["---"] * len(head))]
    return "\n".join([*lines, *(_row([escaped(cell) for cell in row]) for row in rows)])


def _row(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cells)} |"
