"""What is in force, and from where."""

from __future__ import annotations

import os

import typer

from auditor.commands.options import SettingsOption
from auditor.commands.own import as_toml, own_path, own_settings
from auditor.model.text import visible


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
