"""The command described by itself: its commands, arguments and options, read from the code."""

from __future__ import annotations

import inspect
import re
import types
import typing
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from typer.models import ArgumentInfo, OptionInfo

from auditor.cli import app

HELP = ("--help", "-h")
"""Every command takes it; typer adds it."""

PLAIN_BLOCK = "\b"
"""Marks a paragraph of a help text that is not wrapped."""

KINDS = {Path: "path", str: "text", int: "whole number", float: "number", bool: "no value"}


@dataclass(frozen=True, slots=True)
class Parameter:
    """One argument or option of a command."""

    names: tuple[str, ...]
    takes: str
    repeats: bool
    default: str
    help: str
    is_option: bool

    @property
    def name(self) -> str:
        """The long name."""
        return max(self.names, key=len)


@dataclass(frozen=True, slots=True)
class Command:
    """One command."""

    name: str
    text: str
    examples: tuple[str, ...]
    epilog: str
    parameters: tuple[Parameter, ...]

    @property
    def options(self) -> tuple[Parameter, ...]:
        return tuple(one for one in self.parameters if one.is_option)

    @property
    def arguments(self) -> tuple[Parameter, ...]:
        return tuple(one for one in self.parameters if not one.is_option)

    def option(self, word: str) -> Parameter | None:
        """The option that a word of a command line names."""
        return next((one for one in self.options if word in one.names), None)


def commands() -> tuple[Command, ...]:
    """Every command, in the order in which help lists them."""
    return tuple(
        _command(info.name or _callback(info).__name__, _callback(info), info.epilog or "")
        for info in app.registered_commands
    )


def top_options() -> tuple[Parameter, ...]:
    """Options before any command."""
    assert app.registered_callback is not None
    assert app.registered_callback.callback is not None
    return tuple(_parameters(app.registered_callback.callback))


def _callback(info: Any) -> Callable[..., Any]:
    callback: Callable[..., Any] = info.callback
    return callback


def _command(name: str, function: Callable[..., Any], epilog: str) -> Command:
    lines = [line.strip() for line in inspect.getdoc(function).splitlines()]  # type: ignore[union-attr]
    examples = tuple(line for line in lines if line.startswith("auditor "))
    told = [line for line in lines if line not in (*examples, PLAIN_BLOCK)]
    text = re.sub(r"\n{3,}", "\n\n", "\n".join(told)).strip()
    return Command(name, text, examples, epilog, tuple(_parameters(function)))


def _parameters(function: Callable[..., Any]) -> Iterator[Parameter]:
    hints = typing.get_type_hints(function, include_extras=True)
    for name, parameter in inspect.signature(function).parameters.items():
        kind, info = typing.get_args(hints[name])[:2]
        if isinstance(info, ArgumentInfo | OptionInfo):
            yield _parameter(name, kind, info, parameter.default)


def _parameter(name: str, kind: Any, info: ArgumentInfo | OptionInfo, default: Any) -> Parameter:
    inner, repeats = _inner(kind)
    is_option = isinstance(info, OptionInfo)
    own = _declared(info) if is_option else (info.metavar or name,)
    takes = info.metavar.lower() if is_option and info.metavar else KINDS[inner]
    return Parameter(own, takes, repeats, _default(default, kind), info.help or "", is_option)


def _declared(info: ArgumentInfo | OptionInfo) -> tuple[str, ...]:
    """The names as written; typer takes the first for a default until it reads the function."""
    first = (info.default,) if isinstance(info.default, str) else ()
    return (*first, *(info.param_decls or ()))


def _inner(kind: Any) -> tuple[type, bool]:
    """The type of one value, and whether there may be several."""
    parts = [kind]
    if isinstance(kind, types.UnionType) or typing.get_origin(kind) is typing.Union:
        parts = [part for part in typing.get_args(kind) if part is not type(None)]
    if typing.get_origin(parts[0]) is list:
        return typing.get_args(parts[0])[0], True
    return parts[0], False


def _default(default: Any, kind: Any) -> str:
    if default is inspect.Parameter.empty:
        return "required"
    if kind is bool:
        return "off"
    return "–" if default is None else f"`{default}`"
