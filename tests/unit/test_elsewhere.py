"""Systems of another family: the package loads and works without what only POSIX has."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path, PurePath, PurePosixPath, PureWindowsPath

import pytest

from auditor.read.remote import is_url
from auditor.report.frame_names import safe_name
from auditor.request import card_roots

WITHOUT_POSIX = """
import importlib, os, pickle, pkgutil, signal, sys
# other people's packages load as they are: they have their own ways on each system
import distributed, ephem, imagecodecs, jinja2, lxml.etree, matplotlib.figure, numpy
import PIL.Image, platformdirs, rawpy, rich.console, scipy.ndimage, scipy.optimize, typer

for name in ("fcntl", "grp", "posix", "pwd", "resource", "termios", "tty"):
    sys.modules[name] = None
for name in ("fork", "geteuid", "getpgid", "getuid", "kill", "killpg", "mkfifo", "nice",
             "O_NONBLOCK", "O_NOFOLLOW", "sched_getaffinity", "setsid", "statvfs", "sysconf",
             "uname", "fchmod", "pread", "posix_fadvise", "O_DIRECTORY", "O_CLOEXEC", "getloadavg"):
    if hasattr(os, name):
        delattr(os, name)
for name in ("SIGHUP", "SIGKILL", "SIGALRM", "SIGUSR1", "SIGPIPE", "setitimer", "alarm",
             "ITIMER_REAL", "pthread_sigmask", "SIG_BLOCK", "SIG_SETMASK", "pause", "sigwait"):
    if hasattr(signal, name):
        delattr(signal, name)

import auditor
names = [found.name for found in pkgutil.walk_packages(auditor.__path__, "auditor.")]
for name in names:
    if not name.endswith("__main__"):
        importlib.import_module(name)
from auditor.engine.choose import usable_cores
from auditor.engine.failures import Limits
from auditor.engine.pool import _interrupts_blocked
from auditor.engine.worker import call, prepare
prepare()
with _interrupts_blocked():
    reply = call(pickle.dumps((len, "four")), Limits(9.0, 900))
print(len(names), usable_cores() >= 1, *pickle.loads(reply)[:2])
"""


def test_everything_loads_and_a_worker_works_without_what_only_posix_has() -> None:
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", WITHOUT_POSIX],
        capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-2000:]
    modules, *told = done.stdout.split()
    assert int(modules) > 150
    assert told == ["True", "4", "None"]


@pytest.mark.parametrize(
    ("folder", "roots"),
    [
        (PureWindowsPath("E:/DCIM/100CARD"), [PureWindowsPath("E:/")]),
        (PureWindowsPath("E:/dcim"), [PureWindowsPath("E:/")]),
        (PureWindowsPath("//server/share/DCIM/100CARD"), [PureWindowsPath("//server/share/")]),
        (PureWindowsPath("C:/Users/me/card/DCIM"), [PureWindowsPath("C:/Users/me/card")]),
        (PureWindowsPath("C:/Users/me/pictures"), []),
        (PurePosixPath("/Volumes/CARD/DCIM/100CARD"), [PurePosixPath("/Volumes/CARD")]),
        (PurePosixPath("/DCIM/100CARD"), []),
    ],
    ids=str,
)
def test_a_card_is_what_holds_the_dcim_be_it_a_drive_or_a_folder(
    folder: PurePath, roots: list[PurePath]
) -> None:
    """A card in a reader is a drive of its own there, so its root is a card; "/" is none."""
    assert list(card_roots(folder)) == roots


@pytest.mark.parametrize("path", ["C:\\card\\DCIM", "C:/card", "E:", "\\\\server\\share", "//s/c"])
def test_a_drive_is_no_address(path: str) -> None:
    assert not is_url(path)


@pytest.mark.parametrize(
    "name", ["CON", "nul.DNG", "E:/DCIM/a.DNG", "a?b*c|d", "name. ", "\\\\x\\y"]
)
def test_a_report_has_a_name_that_every_system_takes(name: str) -> None:
    made = PureWindowsPath(safe_name(name) + ".png")
    assert made.name == str(made), "neither a drive nor a folder"
    assert made.stem.split(".")[0].casefold() not in {"con", "nul"}
    assert not set('<>:"/\\|?*') & set(made.name)


def test_a_sidecar_never_leaves_its_folder_by_the_signs_of_another_system() -> None:
    from auditor.sidecar.place import _safe_parts

    assert _safe_parts("DCIM/100/A.DNG") == ("DCIM", "100", "A.DNG")
    for hostile in ("C:/Windows/a.DNG", "\\\\server\\share\\a.DNG", "/a.DNG", "C:a.DNG"):
        with pytest.raises(Exception, match="does not stay"):
            _safe_parts(hostile)


def test_the_source_names_no_folder_of_one_system() -> None:
    """``/proc`` has a way round it where it is missing; nothing else is written out."""
    package = Path(__file__).parents[2] / "auditor"
    told = [
        f"{path.relative_to(package)}: {word}"
        for path in sorted(package.rglob("*.py"))
        for word in ("os.geteuid", "os.getuid", ".venv/bin", '"/tmp', '"/dev/', '"/usr', '"/home')
        if word in path.read_text(encoding="utf-8")
    ]
    assert told == []
