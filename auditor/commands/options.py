"""Options that more than one command takes, and what their text stands for."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from auditor.model.errors import CannotWrite, WrongCall
from auditor.model.text import did_you_mean, public_address, visible
from auditor.words import calls

if TYPE_CHECKING:
    from auditor.model.facts import Position


def named_path(text: str) -> Path:
    """Take a path; an empty text, such as an unset variable leaves, is not the current folder.

    Nor is an address a folder here: what is read may lie anywhere, what is written does not.
    """
    if not str(text).strip():
        raise typer.BadParameter(calls.EMPTY_OPTION)
    if "://" in str(text):
        raise typer.BadParameter(calls.AN_ADDRESS.format(text=public_address(str(text))))
    return Path(text)


def decimal_number(text: str | float) -> float:
    """Take a number, with a comma for its point as with a shutter time.

    ``1,000`` is refused: it is a thousand to one reader and 1 to another.
    """
    written = str(text)
    if re.fullmatch(r"[-+]?\d{1,3}(,\d{3})+", written):
        raise typer.BadParameter(calls.TWO_READINGS.format(written=written))
    try:
        return float(written.replace(",", "."))
    except ValueError:
        raise typer.BadParameter(calls.NO_NUMBER.format(written=written)) from None


def not_together(**given: object) -> None:
    """Refuse a call of which one half would be passed over in silence.

    Parameters
    ----------
    **given
        Options by their names, "_" for "-"; None and False where they are not given.

    Raises
    ------
    WrongCall
        More than one is given.
    """
    named = [
        f"--{name.replace('_', '-')}" for name, value in given.items() if value not in (None, False)
    ]
    if len(named) > 1:
        raise WrongCall(calls.LEAVE_ONE_OUT.format(options=" and ".join(named)))


OutOption = Annotated[
    Path | None,
    typer.Option(
        "--out",
        "-o",
        parser=named_path,
        metavar="FOLDER",
        help="Folder for the reports; default: audits/ with the day of the first evening, here or "
        "in your documents.",
    ),
]
SettingsOption = Annotated[
    Path | None,
    typer.Option(
        "--settings",
        parser=named_path,
        metavar="FILE",
        help="TOML file with limits for this call, over your own ('auditor settings').",
    ),
]
StoreOption = Annotated[
    Path | None,
    typer.Option(
        "--store",
        parser=named_path,
        metavar="FILE",
        help="The file that remembers measurements and past shoots.",
    ),
]
NoStoreOption = Annotated[bool, typer.Option("--no-store", help="Remember nothing.")]
QuietOption = Annotated[bool, typer.Option("--quiet", "-q", help="Only problems are shown.")]
FORMATS = ("html", "png", "json", "csv", "md", "pdf", "parquet")
"""What reports are written as; held against those who write them by a test."""

DEFAULT_FORMATS = ("html", "png", "json", "csv")
FormatOption = Annotated[
    list[str] | None,
    typer.Option(
        "--format",
        "-f",
        metavar="FORMAT",
        help=f"{', '.join(FORMATS[:-1])} or {FORMATS[-1]}; several with commas, or repeat. "
        f"Default: {','.join(DEFAULT_FORMATS)}.",
    ),
]
DebugOption = Annotated[
    Path | None,
    typer.Option(
        "--debug",
        parser=named_path,
        metavar="FILE",
        help="Keep the tracebacks of this program's own faults in FILE, to report them.",
    ),
]
PlaceOption = Annotated[
    str | None,
    typer.Option(
        "--at",
        metavar="LAT,LON",
        help="Where the pictures were taken, in degrees, when the files hold no position.",
    ),
]


def tell_trouble(text: str) -> None:
    """Tell on standard error what went wrong without stopping the work."""
    typer.echo(visible(text), err=True)


def keep_traces_in(path: Path | None, paths: Sequence[str]) -> None:
    """Keep tracebacks in a file from now on, behind what it holds; never on the card.

    Raises
    ------
    WrongCall
        The file lies on the card.
    CannotWrite
        It cannot be written.
    """
    from auditor.model.faults import traces_go_to
    from auditor.request import check_off_card

    if path is None:
        return
    check_off_card(paths, path, "The tracebacks", "file with --debug")
    try:
        traces_go_to(path)
    except OSError as error:
        raise CannotWrite(
            calls.DEBUG_NOT_WRITABLE.format(path=path, reason=error.strerror)
        ) from error


def chosen_formats(given: Sequence[str]) -> tuple[str, ...]:
    """Return the formats named, each once: in any case, several with commas between them.

    Raises
    ------
    WrongCall
        There is no such format.
    """
    from auditor.findings.extension import format_extensions

    named = [name.strip().lower() for text in given for name in text.split(",")]
    unknown = [name for name in named if name not in FORMATS]
    # other packages' formats are looked for only where one is asked for
    known = (*FORMATS, *(format_extensions() if unknown else ()))
    for name in unknown:
        if name not in known:
            raise WrongCall(
                calls.NO_FORMAT_LIKE.format(
                    name=visible(name), nearest=did_you_mean(name, known), known=", ".join(known)
                )
            )
    return tuple(dict.fromkeys(named))


def place_from_text(text: str | None, option: str = "--at") -> Position | None:
    """Read LAT,LON in degrees.

    Raises
    ------
    WrongCall
        The text is no place on earth.
    """
    from auditor.model.facts import Position

    if text is None:
        return None
    try:
        latitude, longitude = (float(part) for part in text.split(","))
    except ValueError:
        raise WrongCall(calls.LAT_LON.format(option=option, text=visible(text))) from None
    if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
        raise WrongCall(calls.NO_SUCH_PLACE.format(option=option, text=visible(text)))
    return Position(latitude, longitude)
