"""Audit with the built wheel on every Python of this machine: ``python -m tests.wheel_check``.

The wheel is installed outside the checkout, in a fresh environment for each Python from 3.11 on:
once with the newest and once with the oldest dependencies that it allows. Each audits one small
shoot and two real files, with every report format and with warnings as errors, and has to find what
the checkout's own environment finds: the same ``audit.json`` but for paths and times. A Python that
cannot be used is told by name, with the reason.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from email import message_from_bytes
from functools import partial
from pathlib import Path
from typing import Any

from packaging.requirements import Requirement

ROOT = Path(__file__).parents[1]
REAL_FILES = ROOT / "tests" / "data" / "raw"
LEAST = (3, 11)
SHOOT, MEGAPIXELS, SEED = "pairs", 0.3, 5
PATHS_AND_TIMES = {"made_at", "inputs"}
RELATIVE_TOLERANCE = 1e-9
"""Sums may be taken in another order by another numpy or scipy: the last digits are theirs."""
AS_ERRORS = {"PYTHONWARNINGS": "error"}
AT_A_TIME = 2
"""Environments at work: each spends most of its time on one core, or waiting for downloads."""
ASKS = "import sys, sqlite3, ssl, zlib, ctypes, venv; print(*sys.version_info[:3])"
"""What a Python must have for the program and for an environment; some are built without."""


class Failed(Exception):
    """A step that went wrong, with what it said."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Interpreter:
    """One Python of this machine."""

    path: Path
    minor: tuple[int, int]
    version: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Work:
    """What every environment is given, and what it has to find."""

    folder: Path
    wheel: Path
    cards: tuple[Path, ...]
    reference: Any


def find_interpreters() -> tuple[list[Interpreter], list[str]]:
    """One Python for each version from the least on, oldest first; and why the others are not.

    Returns
    -------
    found : list of Interpreter
    passed_over : list of str
        One line each.
    """
    found: dict[tuple[int, int], Interpreter] = {}
    passed_over = []
    for path in _candidates():
        try:
            numbers = run([path, "-c", ASKS], within_s=60).split()
        except Failed as error:
            passed_over.append(f"{path}: cannot be used ({str(error).splitlines()[-1]})")
            continue
        minor = (int(numbers[0]), int(numbers[1]))
        if minor in found:
            passed_over.append(f"{path}: {minor[0]}.{minor[1]} is tried with {found[minor].path}")
            continue
        found[minor] = Interpreter(path=path, minor=minor, version=".".join(numbers))
    return [found[minor] for minor in sorted(found)], passed_over


def _candidates() -> Iterator[Path]:
    """What is named as a Python from the least on, at pyenv's and on the search path, each once."""
    pyenv = Path(os.environ.get("PYENV_ROOT", Path.home() / ".pyenv"))
    folders = [*sorted(pyenv.glob("versions/*/bin")), *map(Path, os.get_exec_path())]
    seen = set()
    for folder in folders:
        if folder.name == "shims":  # pyenv's signposts to what lies in its versions
            continue
        for path in sorted(_listed(folder)):
            named = re.fullmatch(r"python3\.(\d+)(\.exe)?", path.name)
            if named and int(named[1]) >= LEAST[1] and path.resolve() not in seen:
                seen.add(path.resolve())
                yield path


def _listed(folder: Path) -> list[Path]:
    try:
        return list(folder.iterdir())
    except OSError:
        return []


def run(
    command: Sequence[str | Path], *, within_s: float = 600, ends: Sequence[int] = (0,),
    more: Mapping[str, str] | None = None, there: Path | None = None,
) -> str:  # fmt: skip
    """Run a command with nothing of the checkout in its surroundings; return what it printed."""
    kept = {k: v for k, v in os.environ.items() if k not in {"PYTHONPATH", "VIRTUAL_ENV"}}
    try:
        done = subprocess.run(
            list(map(str, command)), capture_output=True, text=True, errors="replace",
            timeout=within_s, cwd=there, env=kept | dict(more or {}), check=False,
        )  # fmt: skip
    except (OSError, subprocess.TimeoutExpired) as error:
        raise Failed(f"{command[0]}: {error}") from error
    if done.returncode not in ends or "Warning:" in done.stderr:
        said = "\n".join((done.stdout + done.stderr).strip().splitlines()[-30:])
        raise Failed(f"{' '.join(map(str, command))}\nends with {done.returncode}:\n{said}")
    return done.stdout


def build_wheel(into: Path) -> Path:
    """Build the wheel of this checkout."""
    uv = shutil.which("uv")
    if uv:
        run([uv, "build", "--quiet", "--wheel", "--out-dir", into, ROOT])
    else:
        run([sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "-w", into, ROOT])
    return next(into.glob("*.whl"))


EXTRA = "parquet"
"""Installed with the wheel, so that every format of report can be asked for."""


def oldest(wheel: Path) -> list[str]:
    """Each dependency pinned to the oldest version that the wheel allows."""
    with zipfile.ZipFile(wheel) as archive:
        name = next(one for one in archive.namelist() if one.endswith("dist-info/METADATA"))
        metadata = message_from_bytes(archive.read(name))
    needs = [Requirement(line) for line in metadata.get_all("Requires-Dist", [])]
    return [
        f"{need.name}=={bound.version.replace('*', '0')}"
        for need in needs
        if need.marker is None or need.marker.evaluate({"extra": EXTRA})
        for bound in need.specifier
        if bound.operator in {">=", "=="}
    ]


def make_environment(python: Path, folder: Path, wheel: Path, pins: Sequence[str]) -> Path:
    """Make a fresh environment and install the wheel, without ever compiling; return its commands.

    Parameters
    ----------
    python : Path
    folder : Path
    wheel : Path
    pins : sequence of str
        Versions to keep to; none takes the newest of everything.
    """
    commands = folder / ("Scripts" if os.name == "nt" else "bin")
    uv = shutil.which("uv")
    if uv:
        run([uv, "venv", "--quiet", "--python", python, folder])
        install: list[str | Path] = [uv, "pip", "install", "--python", commands / "python"]
    else:
        run([python, "-m", "venv", folder])
        install = [commands / "python", "-m", "pip", "install"]
    kept = folder / "pins.txt"
    kept.write_text("\n".join(pins))
    run([*install, "--quiet", "--only-binary", ":all:", "-c", kept, f"{wheel}[{EXTRA}]"])
    return commands


def audit_with(commands: Path, cards: Sequence[Path], folder: Path) -> Any:
    """Use the program as installed; return its ``audit.json``."""
    python, auditor = commands / "python", commands / "auditor"
    folder.mkdir()

    def ask(*words: str | Path, ends: Sequence[int] = (0,)) -> str:
        return run([auditor, *words], more=AS_ERRORS, there=folder, ends=ends)

    formats = run([python, "-c", "from auditor.report.write import MAIN_FILES as r; print(*r)"],
                  more=AS_ERRORS, there=folder).split()  # fmt: skip
    out, store = folder / "out", folder / "store.sqlite"
    asked = [word for name in formats for word in ("--format", name)]
    ask("audit", *cards, *asked, "--out", out, "--store", store)
    written = {path.suffix[1:] for path in out.rglob("*") if path.stat().st_size}
    if not set(formats) <= written:
        raise Failed(f"Reports are missing or empty: {sorted(set(formats) - written)}")
    frame = next(cards[0].rglob("*.DNG"))
    ask("frame", frame, "--out", folder / "sheet")
    ask("history", "--store", store)
    ask("explain", "blown-area")
    ask("nd-time", "1/60", "--stops", "10")
    ask("nd-time", ends=(2,))
    if ask("--version") != run([commands / "exposure-auditor", "--version"], there=folder):
        raise Failed("The two names of the command do not tell the same version.")
    return json.loads((out / "audit.json").read_bytes())


def differences(here: Any, there: Any, place: str = "") -> Iterator[str]:
    """Where two audits differ, but for paths, times and the last digits of a sum."""
    if isinstance(here, dict) and isinstance(there, dict) and here.keys() == there.keys():
        for key in here.keys() - PATHS_AND_TIMES:
            yield from differences(here[key], there[key], f"{place}.{key}")
    elif isinstance(here, list) and isinstance(there, list) and len(here) == len(there):
        for index, pair in enumerate(zip(here, there, strict=True)):
            yield from differences(*pair, f"{place}[{index}]")
    elif isinstance(here, float) and isinstance(there, float):
        if not math.isclose(here, there, rel_tol=RELATIVE_TOLERANCE, abs_tol=RELATIVE_TOLERANCE):
            yield f"{place}: {here!r}, not {there!r}"
    elif here != there:
        yield f"{place}: {str(here)[:80]}, not {str(there)[:80]}"


def try_wheel(python: Interpreter, name: str, pins: Sequence[str], work: Work) -> None:
    """Install, audit and compare.

    Raises
    ------
    Failed
        Something ended otherwise than it should, warned, or was measured otherwise.
    """
    folder = work.folder / f"{python.version}-{name}"
    commands = make_environment(python.path, folder, work.wheel, pins)
    home = run([commands / "python", "-c", "import auditor; print(auditor.__file__)"], there=folder)
    if not Path(home.strip()).is_relative_to(folder):
        raise Failed(f"What was imported is not what was installed: {home}")
    made = audit_with(commands, work.cards, folder / "audit")
    other = list(differences(made, work.reference))
    if other:
        raise Failed(f"audit.json differs in {len(other)} places:\n" + "\n".join(other[:20]))
    shutil.rmtree(folder)


def prepare(folder: Path) -> Work:
    """Build the wheel, make the shoot, and audit it with the checkout's own environment."""
    run([sys.executable, "-m", "sample_generation", folder / "shoot", "--shoot", SHOOT,
         "--megapixels", str(MEGAPIXELS), "--seed", str(SEED)], there=ROOT)  # fmt: skip
    cards = (*sorted((folder / "shoot").glob("card-*")), folder / "real")
    shutil.copytree(REAL_FILES, cards[-1])
    reference = audit_with(Path(sys.executable).parent, cards, folder / "reference")
    if not any(frame["status"] == "measured" for frame in reference["frames"]):
        raise Failed("No frame was measured: there is nothing to compare.")
    return Work(folder=folder, wheel=build_wheel(folder), cards=cards, reference=reference)


def promised() -> set[str]:
    """The Pythons that the package says it runs on."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return {line.rpartition(" ")[2] for line in project["classifiers"] if "Python :: 3." in line}


def _tried(work: Work, job: tuple[Interpreter, str, Sequence[str]]) -> tuple[bool, str]:
    python, name, pins = job
    told = f"Python {python.version}, {name} dependencies"
    try:
        try_wheel(python, name, pins, work)
    except Failed as error:
        return False, f"{told}: FAILED\n{error}"
    return True, f"{told}: the same audit of {len(work.reference['frames'])} frames"


def main() -> None:
    """Try them all; end with 1 where one that is promised failed, or none could be tried."""
    parser = argparse.ArgumentParser(prog="python -m tests.wheel_check", description=__doc__)
    parser.add_argument("--only", help="one Python, such as 3.13")
    only = parser.parse_args().only
    pythons, passed_over = find_interpreters()
    missing = promised() - {f"{one.minor[0]}.{one.minor[1]}" for one in pythons}
    if only:
        pythons = [one for one in pythons if one.version.startswith(f"{only}.")]
    failed = 0
    with tempfile.TemporaryDirectory(prefix="wheel-check-") as made:
        try:
            work = prepare(Path(made))
        except Failed as error:
            sys.exit(f"The checkout itself: FAILED\n{error}")
        jobs: list[tuple[Interpreter, str, Sequence[str]]] = [
            (python, name, pins)
            for python in pythons
            for name, pins in (("newest", ()), ("oldest", oldest(work.wheel)))
        ]
        with ThreadPoolExecutor(AT_A_TIME) as trying:
            for good, told in trying.map(partial(_tried, work), jobs):
                failed += not good
                print(told, flush=True)
    for line in passed_over:
        print(line)
    for version in sorted(missing):
        print(f"Python {version}: promised, but this machine has none that can be used")
    sys.exit(1 if failed or not pythons else 0)


if __name__ == "__main__":
    main()
