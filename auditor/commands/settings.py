"""Settings of one's own: a file that every command reads, and the command that shows them."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Any

import platformdirs
import typer

from auditor.commands.options import SettingsOption, chosen_formats, place_from_text
from auditor.model.errors import AuditorError, BadSettings
from auditor.model.facts import Position
from auditor.model.settings import Settings, read_toml, settings_from
from auditor.model.text import visible
from auditor.words import calls

VARIABLE = "AUDITOR_SETTINGS"
"""Names another file than the one in the user's folder."""

BY_ITSELF = "default"


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnSettings:
    """What is in force before the command line has its say.

    Parameters
    ----------
    place : Position or None
        For files that hold no position.
    paper : str or None
        What is printed on; its densities are in ``settings`` already.
    out : Path or None
        The folder under which reports go.
    store : Path or None
    labels : tuple of str or None
        Label texts for keep, second and drop.
    formats : tuple of str or None
        Of the reports.
    origins : mapping
        Name of a value ("store", "judge.blown_limit") to the file that it comes from; what is
        not there is the default.
    """

    settings: Settings = Settings()
    place: Position | None = None
    paper: str | None = None
    out: Path | None = None
    store: Path | None = None
    labels: tuple[str, ...] | None = None
    formats: tuple[str, ...] | None = None
    origins: Mapping[str, str] = field(default_factory=dict)


def own_path() -> Path:
    """Return where settings of one's own lie: where the environment says, or the usual folder."""
    named = os.environ.get(VARIABLE, "").strip()
    folder = platformdirs.user_config_path("exposure-auditor", appauthor=False)
    return Path(named).expanduser() if named else folder / "settings.toml"


def own_settings(given: Path | None = None) -> OwnSettings:
    """Read one's own settings, and over them those of a file named in the call.

    Raises
    ------
    BadSettings
        A file cannot be read, or something in it cannot be; the message names file and value.
    """
    own, path = OwnSettings(), own_path()
    if os.environ.get(VARIABLE, "").strip() or os.path.lexists(path):
        own = with_file(own, path)
    return own if given is None else with_file(own, given)


def with_file(own: OwnSettings, path: Path) -> OwnSettings:
    """Return settings changed by all that a TOML file names."""
    tables = read_toml(path)
    plain = {name: tables.pop(name) for name in PLAIN if name in tables}
    try:
        changed: dict[str, Any] = {name: PLAIN[name](value, path) for name, value in plain.items()}
        settings = own.settings
        if "paper" in changed:
            from auditor.print.fit import with_paper

            settings = with_paper(settings, changed["paper"])
    except AuditorError as error:
        raise BadSettings(f"{path}: {error}") from None
    origins = dict.fromkeys(plain, str(path))
    if "paper" in changed:
        origins |= dict.fromkeys(("print.paper_dmax", "print.paper_dmin"), str(path))
    for table, held in tables.items():
        origins |= {f"{table}.{name}": str(path) for name in held if isinstance(held, dict)}
    settings = settings_from(tables, str(path), settings, beside=tuple(PLAIN))
    return replace(own, settings=settings, origins={**own.origins, **origins}, **changed)


def _text(name: str) -> Callable[[Any, Path], str]:
    def take(value: Any, _path: Path) -> str:
        if not isinstance(value, str) or not value.strip():
            raise BadSettings(calls.A_TEXT.format(name=name))
        return value

    return take


def _folder(name: str) -> Callable[[Any, Path], Path]:
    def take(value: Any, path: Path) -> Path:
        """Take a path; a relative one counts from the settings file, not from where one stands."""
        return path.absolute().parent / Path(_text(name)(value, path)).expanduser()

    return take


def _place(value: Any, _path: Path) -> Position | None:
    listed = isinstance(value, list) and len(value) == 2
    return place_from_text(",".join(map(str, value)) if listed else str(value), "place")


def _labels(value: Any, _path: Path) -> tuple[str, ...]:
    labels = _texts("labels", value)
    if len(labels) != 3:
        raise BadSettings(calls.THREE_LABELS)
    return labels


def _texts(name: str, value: Any) -> tuple[str, ...]:
    listed = value.split(",") if isinstance(value, str) else value
    if not isinstance(listed, list) or not all(isinstance(item, str) for item in listed):
        raise BadSettings(calls.LIST_OF_TEXTS.format(name=name))
    return tuple(item.strip() for item in listed)


PLAIN: dict[str, Callable[[Any, Path], Any]] = {
    "place": _place,
    "paper": _text("paper"),
    "out": _folder("out"),
    "store": _folder("store"),
    "labels": _labels,
    "formats": lambda value, _path: chosen_formats(_texts("formats", value)),
}
"""What may stand before the tables, and how it is taken."""


def as_toml(own: OwnSettings) -> str:
    """Return all settings as a settings file, each with where it comes from."""
    lines = []
    for name in PLAIN:
        value = getattr(own, name)
        if isinstance(value, Position):
            value = (value.latitude_deg, value.longitude_deg)
        unset = f"# {name} is not set"
        lines.append(unset if value is None else _line(name, _toml(value), own.origins.get(name)))
    for section in fields(Settings):
        table = getattr(own.settings, section.name)
        lines += ["", f"[{section.name}]"]
        for entry in fields(table):
            value = _toml(getattr(table, entry.name))
            lines.append(_line(entry.name, value, own.origins.get(f"{section.name}.{entry.name}")))
    return "\n".join(lines)


def _line(name: str, value: str, origin: str | None) -> str:
    told = BY_ITSELF if origin is None else visible(origin)
    return f"{f'{name} = {value}':40}  # {told}"


def _toml(value: Any) -> str:
    """Write a value as TOML does; JSON's texts and lists are TOML's as well."""
    if isinstance(value, tuple):
        return f"[{', '.join(map(_toml, value))}]"
    return json.dumps(value if isinstance(value, bool | int | float) else str(value))


def settings(given: SettingsOption = None) -> None:
    """Show every setting with where it comes from, as a settings file of your own may hold it.

    \b
    auditor settings
    auditor settings --settings limits.toml

    What it prints can be saved as that file; a line left out keeps its default.
    """
    path = own_path()
    there = "" if os.path.lexists(path) else " (not there yet)"
    typer.echo(f"# Your own settings: {visible(str(path))}{there}")
    own = own_settings(given)
    if own.store is None:
        from auditor.past import store_place

        typer.echo(f"# The store: {visible(str(store_place(None)))}")
    typer.echo(as_toml(own))
