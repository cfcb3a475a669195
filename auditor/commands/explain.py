"""What a finding, a failure or a measure means, and why two frames belong together or not."""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

import auditor
from auditor.commands.options import StoreOption, named_path
from auditor.model.errors import WrongCall
from auditor.model.text import did_you_mean, visible
from auditor.words import calls
from auditor.words.unread import FAILURE_CODES

if TYPE_CHECKING:
    from auditor.model.findings import FindingKind

PACKAGE = Path(auditor.__file__).parent
LINKED = re.compile(r"\[([^\]]*)\]\([^)]*\)")


def explain(
    named: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="CODE or FRAME FRAME",
            help="A finding, the code of a failure, a measure, or two frames by their numbers; "
            "none lists them all.",
        ),
    ] = None,
    audit: Annotated[
        Path | None,
        typer.Option(
            "--audit",
            parser=named_path,
            metavar="FILE",
            help="The audit.json that two frames are looked up in; else the last audit.",
        ),
    ] = None,
    store: StoreOption = None,
) -> None:
    """Say what a finding means, how it is measured, and what to do next time.

    \b
    auditor explain blown-area
    auditor explain headroom
    auditor explain 0001 0002 --audit audit.json

    It also knows why a file could not be read (cut-off) and the measures and fields of the
    audit (noise-floor, headroom_stops). Of two frames of the last audit, or of --audit FILE, it
    says whether they belong together and why not.
    """
    from auditor.words.kinds import KINDS

    match named or []:
        case [first, second]:
            from auditor.between import explain_frames

            for sentence in explain_frames(first, second, audit, store):
                typer.echo(textwrap.fill(visible(sentence), 88, subsequent_indent="  "))
        case _ if audit is not None or store is not None:
            raise WrongCall(calls.FRAMES_ONLY)
        case []:
            typer.echo(everything(KINDS))
        case [code]:
            typer.echo(explanation(code, KINDS))
        case _:
            raise WrongCall(calls.ONE_CODE)


def explanation(code: str, kinds: Mapping[str, FindingKind]) -> str:
    """Return what a code means, as text for a terminal.

    Raises
    ------
    WrongCall
        There is no such finding, failure or measure; the nearest are named.
    """
    wanted = code.strip().lower()
    if wanted in kinds:
        kind = kinds[wanted]
        parts = [
            ("What it means", kind.meaning),
            ("How it is measured", kind.measured),
            ("Next time", kind.next_time),
            ("Caution", kind.caution),
        ]
        body = "\n\n".join(f"{head}\n{_wrapped(text)}" for head, text in parts if text)
        return f"{kind.title} ({kind.code}, {kind.severity})\n\n{body}"
    if wanted in FAILURE_CODES:
        return f"A file could not be measured ({wanted})\n\n{_wrapped(FAILURE_CODES[wanted])}"
    chapters, fields = _chapters(), _fields()
    # "headroom" is enough for the chapter on headroom and what follows from it
    found = [text for name, text in chapters.items() if f"{name}-".startswith(f"{wanted}-")]
    if wanted in fields:
        found.append(f"{wanted} in audit.json\n\n" + "\n".join(map(_wrapped, fields[wanted])))
    if found:
        return "\n\n".join(found)
    known = (*kinds, *FAILURE_CODES, *chapters, *fields)
    raise WrongCall(calls.NO_CODE.format(code=visible(code), nearest=did_you_mean(wanted, known)))


def everything(kinds: Mapping[str, FindingKind]) -> str:
    """Return every finding with its title, one a line, and the names of all else."""
    widest = max(len(code) for code in kinds)
    lines = [f"{kind.code:{widest}}  {kind.severity:4}  {kind.title}" for kind in kinds.values()]
    lists = (
        ("Why a file could not be measured", FAILURE_CODES),
        ("Measures", _chapters()),
    )
    more = "\n\n".join(f"{head}:\n{_wrapped(', '.join(sorted(names)))}" for head, names in lists)
    return "\n".join(lines) + calls.FIELDS_TOO.format(more=more)


def _chapters() -> dict[str, str]:
    """Return the chapters of the measures' page as plain text, by the names of their headings."""
    page = (PACKAGE / "docs" / "measures.md").read_text(encoding="utf-8")
    chapters = {}
    for part in re.split(r"^## ", page, flags=re.MULTILINE)[1:]:
        head, _, body = part.partition("\n")
        name = re.sub(r"[^a-z]+", "-", head.lower().replace("'", "")).strip("-")
        # what Markdown marks is taken off; lists and tables stay as they are
        text = LINKED.sub(r"\1", body).replace("**", "").replace("`", "")
        text = re.sub(r"(?<!\w)\*(\w[^*\n]*)\*", r"\1", text)
        plain = [
            paragraph
            if paragraph.startswith(("|", "- "))
            else _wrapped(" ".join(paragraph.split()))
            for paragraph in text.strip().split("\n\n")
        ]
        chapters[name] = "\n\n".join([head, *plain])
    return chapters


def _fields() -> dict[str, list[str]]:
    """Return what each field of audit.json says, by its name; some stand in several records."""
    schema = json.loads((PACKAGE / "report" / "audit.schema.json").read_text(encoding="utf-8"))
    told: dict[str, list[str]] = {}
    for record, definition in schema["$defs"].items():
        for name, field in definition.get("properties", {}).items():
            if "description" in field:
                told.setdefault(name, []).append(f"{record}: {field['description']}")
    return told


def _wrapped(text: str) -> str:
    return textwrap.fill(text, 88, initial_indent="  ", subsequent_indent="  ")
