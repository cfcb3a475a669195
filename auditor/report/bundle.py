"""Script modules joined into one script for a page that must stand alone.

A page from disk cannot import modules, and its policy allows one known script. So the modules
are joined, each in a scope of its own after those that it imports, and hand over what they
export. The form of imports and exports that is understood is checked here.
"""

from __future__ import annotations

import re
from collections.abc import Callable

IMPORT = re.compile(r'^import \{([^}]*)\} from "\./([\w-]+\.js)";\n', re.MULTILINE)
EXPORT = re.compile(r"^export (?=(?:async )?(?:const|function|class) (\w+))", re.MULTILINE)
STRAY = re.compile(r"^(?:import|export)\b.*", re.MULTILINE)


class CannotBundle(ValueError):
    """The modules cannot be joined; the message names the module and the line or the name."""


def bundle(entry: str, read: Callable[[str], str]) -> str:
    """Join a module with all that it imports, directly or not.

    Parameters
    ----------
    entry : str
        File name of the module that starts the page.
    read : callable
        Returns a module's text by its file name.

    Returns
    -------
    str
        One strict script in a scope of its own.

    Raises
    ------
    CannotBundle
        Modules import each other in a circle, import what is not exported, or hold an import or
        export in another form than ``import { names } from "./file.js";`` and ``export`` before a
        ``const``, ``function`` or ``class``.
    """
    order: dict[str, str] = {}
    _visit(entry, read, order, ())
    parts = []
    for name, text in order.items():
        # a module is a function that is called at once and returns what it exports
        exports = ", ".join(EXPORT.findall(text))
        body = EXPORT.sub("", text)
        body = IMPORT.sub(lambda found: f"const {{{found[1]}}} = {_holder(found[2])};\n", body)
        if stray := STRAY.search(body):
            raise CannotBundle(f"{name}: not understood: {stray.group().strip()}")
        scope = f"(() => {{\n{body}return {{ {exports} }};\n}})();"
        parts.append(f"/* {name} */\nconst {_holder(name)} = {scope}\n")
    return f'(() => {{\n"use strict";\n{"".join(parts)}}})();'


def _visit(
    name: str, read: Callable[[str], str], order: dict[str, str], above: tuple[str, ...]
) -> None:
    if name in above:
        raise CannotBundle(f"{name}: imports itself by way of {', '.join(above)}")
    if name in order:
        return
    text = read(name)
    for names, other in IMPORT.findall(text):
        _visit(other, read, order, (*above, name))
        missing = {part.strip() for part in names.split(",") if part.strip()} - set(
            EXPORT.findall(order[other])
        )
        if missing:
            raise CannotBundle(f"{name}: {other} does not export {', '.join(sorted(missing))}")
    order[name] = text


def _holder(name: str) -> str:
    return "$" + re.sub(r"\W", "_", name.removesuffix(".js"))
