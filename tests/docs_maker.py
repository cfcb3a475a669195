"""Write ``auditor/docs/reference.md`` from the code: ``python -m tests.docs_maker``.

What the reference says of commands, settings, findings, failures and files is read from where
the program itself reads it; only the sentences that hold it together, and the examples, are
written here.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path

from auditor.files.atomic import write_bytes
from auditor.model.limit import all_limits
from auditor.sidecar.marks import MARK_WORDS, MARKS_SCHEMA
from auditor.words import cautions
from tests import schema_maker
from tests.docs_commands import HELP, Command, Parameter, commands, top_options
from tests.docs_examples import EXAMPLES
from tests.docs_records import (
    csv_columns,
    errors_table,
    failures_table,
    findings_list,
    python_table,
    ratings_table,
    schema_tables,
    settings_tables,
    table,
)

DOCS = Path(__file__).parents[1] / "auditor" / "docs"
REFERENCE = DOCS / "reference.md"

INTRODUCTION = """\
# Reference

Written from the code; do not edit by hand (`python -m tests.docs_maker` in a checkout writes it).
Start at the [index](index.md); what each figure means stands in [measures](measures.md).

- [Commands](#commands): """

EXIT = """\
## Exit status

| status | meaning |
| --- | --- |
| 0 | All is well: every file was read, every mark written, the store is whole. |
| 1 | The work is complete, but something in it is not: files that could not be read, marks \
without a frame, a store with a fault. Each is named. |
| 2 | The call was wrong, there was no raw file, no file could be measured through a fault of this \
program, or something could not be written. |
| 130 | It was stopped. While an audit measures, the reports hold what was measured until then and \
say so; they take the place of older ones of the same shoot. Unless `--no-store` was given, the \
same command goes on. |

A pipe whose reader has gone changes no status.

Frames with losses are the product, never an error. What ends a call with 2:
"""

FILES = """\
## Files written

Each file is written beside its place and moved into it when it is whole: a report is the old one
or the new one, never half of one. Nothing is ever written to the card.

| file | by | what |
| --- | --- | --- |
| `report.html` | `audit`, format `html` | The page: one file, no network. \
With more than a hundred frames the camera's previews lie in a folder beside it. |
| `report-pictures/NAME.jpg`, `NAME-blown.jpg`, `NAME-sharp.jpg` | `audit`, `html` | \
The whole frame at 2,048 px, and 480 px at the sensor's own pixels; see `--pictures`. \
The page serves without them. |
| `contact-sheet.png`, `contact-sheet-2.png` … | `audit`, `png` | All frames, with range bars. |
| `sheets/NAME.png` | `audit`, `png` | A sheet for each frame that lost something, or as \
`--sheets` says. |
| `audit.json` | `audit`, `json` | Every figure; [fields](#fields-of-auditjson). |
| `frames.csv` | `audit`, `csv` | One row a frame; [columns](#columns-of-framescsv). |
| `frames.parquet`, `channels.parquet` … | `audit`, `parquet` | One file a table. |
| `.auditor.json` | `audit` | Which shoot the folder holds, and which files are ours. |
| `report.md` | `audit`, `md` | The page's sentences as plain text. |
| `answer.pdf` | `audit`, `pdf` | One page of A4: losses, next time, filters, what to keep. |
| `NAME.png`, `NAME.json` | `frame` | One frame's sheet and its record as in `frames[]`. |
| `history.html`, `history.png` | `history --out` | What all shoots tell together. |
| the file named | `history --export` | Measurements and shoots, to be read by `--import`. |
| the file named, `.png` or `.pdf` | `nd-time --card` | Shutter times to print and carry. |
| `NAME.xmp` | `apply` | A sidecar beside the raw file. |
| `.auditor-undo/0001.jsonl` … in the folder | `apply` | What each sidecar held before that run. |
| `store.sqlite` in the user's data folder | `audit` | Measurements and past shoots, unless \
`--no-store`; `auditor history --verify` prints where it lies. |
| `store.sqlite-pictures` beside it | `audit` | Large pictures, at most 400 kB a frame and 8 GB \
in all: those longest unused go first. May be deleted: what is wanted again is drawn again. |
"""

MARKS = """\
## Marks

The report saves its marks as `marks.json`, and `auditor apply` reads them:

```json
{
 "schema": "%s",
 "made_at": "2026-10-03T21:14:05.000Z",
 "audit_made_at": "2026-10-03T20:58:40+02:00",
 "inputs": ["/media/card"],
 "marks": [
  {"frame": "DCIM/100/IMG_0042.DNG", "file": "DCIM/100/IMG_0042.DNG", "input": 0,
   "mark": "keep", "note": "the short one"},
  {"frame": "DCIM/100/IMG_0043.DNG", "file": "DCIM/100/IMG_0043.DNG", "input": 0,
   "mark": null, "note": "water too smooth"}
 ]
}
```

`mark` is one of %s, or null, which takes out what an earlier run
wrote and nobody changed. `frame` is the id in the audit, `file` the path relative to the input,
`input` which of the `inputs`, from 0 (ids and `--input` count from 1). A note becomes
`dc:description`. Files with the schema "exposure-auditor marks 1" (keeper, spare, drop) are still
read.

"""


SETTINGS = """## Settings

Your own stand in a TOML file: `settings.toml` in the user's configuration folder, or the file that
`AUDITOR_SETTINGS` names. `auditor settings` prints which file it is, what is in force and from
where. A file given with `--settings` lies over it, and the options of the call over both. What is
left out keeps its default; an unknown table, name or type is refused. The Python interface reads no
file by itself.

Before the tables may stand what else you would give with every call; `~` is your home, and a
relative path counts from the settings file:

```toml
place = "54.2,3.6"                    # --at, for files that hold no position
paper = "matte"                       # --paper
out = "~/audits"                      # where reports go
store = "~/audits/store.sqlite"       # --store
labels = ["Keep", "Second", "Drop"]   # the label texts that apply writes
formats = ["html", "json"]            # --format
```

Only `measure.preview` changes what is kept of a file; a changed limit of time or memory counts for
files that failed by it, and every other change decodes nothing.
"""


def build_reference() -> str:
    """The whole page."""
    words = ", ".join(f"`{word}`" for word in MARK_WORDS)
    parts = [
        INTRODUCTION + _contents(),
        "## Commands",
        _top(),
        *(_command(command) for command in commands()),
        EXIT + "\n" + errors_table(),
        FILES.rstrip(),
        SETTINGS.rstrip(),
        settings_tables(),
        "## Limits\n\nWhat the rules decide by and no setting overrules, room by room.\n\n"
        + limits_tables(),
        "## Findings\n\n`auditor explain CODE` prints the same.",
        findings_list(),
        "## Why a file could not be read\n\n" + failures_table(),
        MARKS % (MARKS_SCHEMA, words) + ratings_table(),
        "## Python interface\n\n`auditor.api`; a worked session stands in [Python](python.md).",
        python_table(),
        "## Columns of `frames.csv`\n\nOne row a frame; an unmeasured figure is an empty cell. "
        "PLANE stands for the name of each colour plane that the audit holds.\n\n" + csv_columns(),
        "## Fields of `audit.json`\n\nFrom the JSON Schema that ships with the package "
        "(`auditor.api.json_schema()`). Shares are fractions of 1; null is unmeasured.",
        schema_tables(),
    ]
    return "\n\n".join(parts) + "\n"


def limits_tables() -> str:
    """Every room's limits, as the rules read them."""
    tables = []
    for room, limits in all_limits().items():
        rows = [
            f"| `{name}` | {one:g} {one.unit} | {one.meaning} |" for name, one in limits.items()
        ]
        tables.append(
            f"### {room}\n\n| limit | value | meaning |\n| --- | --- | --- |\n" + "\n".join(rows)
        )
    return "\n\n".join(tables)


def _contents() -> str:
    names = ", ".join(f"[{command.name}](#{_anchor(command)})" for command in commands())
    return f"""{names}
- [Exit status](#exit-status), [files written](#files-written), [settings](#settings),
  [limits](#limits)
- [Findings](#findings), [why a file could not be read](#why-a-file-could-not-be-read)
- [Marks](#marks), [Python interface](#python-interface)
- [Columns of `frames.csv`](#columns-of-framescsv)
- [Fields of `audit.json`](#fields-of-auditjson)"""


def _anchor(command: Command) -> str:
    return f"auditor-{command.name}"


def _top() -> str:
    lines = [
        "auditor --version",
        "auditor --help",
        *(f"auditor {c.name} --help" for c in commands()),
    ]
    return (
        "### `auditor`\n\n"
        + _options_table(top_options())
        + "\n\nEvery command takes `--help` as well. `--install-completion` lets your shell "
        "complete commands and options, `--show-completion` prints what it would add. With "
        "`AUDITOR_DEBUG=group,settle` in the environment (or `all`) the rooms named tell their "
        "decisions on standard error.\n\n```\n" + "\n".join(lines) + "\n```"
    )


def _command(command: Command) -> str:
    usage = " ".join(["auditor", command.name, "[OPTIONS]", *map(_asked, command.arguments)])
    parts = [f"### `auditor {command.name}`", command.text, f"`{usage}`"]
    if command.arguments:
        parts.append(table(("argument", "meaning"), map(_argument, command.arguments)))
    parts.append(_options_table(command.options))
    lines = "\n".join(f"# {what}\n{line}" for line, what in EXAMPLES[command.name])
    parts += [f"```\n{lines}\n```", command.epilog, _cautions(command)]
    return "\n\n".join(part for part in parts if part)


def _asked(one: Parameter) -> str:
    return one.name if one.default == "required" else f"[{one.name}]"


def _argument(one: Parameter) -> tuple[str, str]:
    needed = " Required." if one.default == "required" else ""
    return f"`{one.name}`", one.help + needed


def _cautions(command: Command) -> str:
    """The cautions that belong beside a command's advice."""
    told = {"nd-time": cautions.LONG_EXPOSURE, "history": cautions.HISTORY}
    return "\n>\n".join(f"> Caution: {text}" for text in told.get(command.name, ()))


def _options_table(options: Iterable[Parameter]) -> str:
    own = [*options, Parameter(HELP, "no value", False, "", "Show the help and end.", True)]
    rows = (
        (", ".join(f"`{name}`" for name in one.names), _takes(one), one.default, one.help)
        for one in own
    )
    return table(("option", "takes", "default", "meaning"), rows)


def _takes(one: Parameter) -> str:
    return f"{one.takes}, repeatable" if one.repeats else one.takes


def main() -> None:
    """Write the schema, and the page from it; say whether the page changed."""
    schema_maker.main()
    text = build_reference().encode()
    fresh = REFERENCE.exists() and REFERENCE.read_bytes() == text
    if not fresh:
        write_bytes(REFERENCE, text)
    print(f"{REFERENCE}: {'as it was' if fresh else 'written'}", file=sys.stderr)


if __name__ == "__main__":
    main()
