"""The check of the built wheel: it finds what differs, and tells of every Python it passes over."""

from __future__ import annotations

import sys
import zipfile
from pathlib import Path

import pytest

from tests.wheel_check import Failed, differences, find_interpreters, oldest, run

AUDIT = {"made_at": "now", "frames": [{"file": "a", "blown": 0.25, "notes": ["x"]}]}


def test_two_audits_are_the_same_but_for_paths_times_and_last_digits() -> None:
    near = {"made_at": "then", "frames": [{"file": "a", "blown": 0.25 + 1e-12, "notes": ["x"]}]}
    assert list(differences(AUDIT, near)) == []


@pytest.mark.parametrize(
    ("frame", "place"),
    [
        ({"file": "a", "blown": 0.2501, "notes": ["x"]}, ".frames[0].blown: 0.25, not 0.2501"),
        ({"file": "a", "blown": None, "notes": ["x"]}, ".frames[0].blown: 0.25, not None"),
        ({"file": "b", "blown": 0.25, "notes": ["x"]}, ".frames[0].file: a, not b"),
        ({"file": "a", "blown": 0.25, "notes": []}, ".frames[0].notes: ['x'], not []"),
        ({"file": "a", "blown": 0.25}, ".frames[0]: {"),
    ],
)
def test_what_differs_is_named_with_its_place(frame: object, place: str) -> None:
    (told,) = differences(AUDIT, {"made_at": "now", "frames": [frame]})
    assert told.startswith(place)


def test_the_oldest_dependencies_are_the_floors_without_the_extras(tmp_path: Path) -> None:
    wheel = tmp_path / "w.whl"
    with zipfile.ZipFile(wheel, "w") as archive:
        archive.writestr(
            "w.dist-info/METADATA",
            "Name: w\nRequires-Dist: numpy<3,>=2.3.2\nRequires-Dist: exifread==3.5.*\n"
            "Requires-Dist: fsspec>=2024.6; extra == 'cluster'\n",
        )
    assert oldest(wheel) == ["numpy==2.3.2", "exifread==3.5.0"]


@pytest.mark.skipif(sys.platform == "win32", reason="the stand-ins are shell scripts")
def test_one_python_a_version_is_tried_and_the_others_are_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for folder, name, says in (
        ("a", "python3.12", "echo 3 12 1"),
        ("a", "python3.13", "echo 'built without sqlite3' >&2; exit 1"),
        ("b", "python3.12", "echo 3 12 7"),
        ("b", "python3.14", "echo 3 14 0"),
        ("b", "python3.9", "echo 3 9 0"),
        ("shims", "python3.11", "echo 3 11 0"),
    ):
        path = tmp_path / folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(f"#!/bin/sh\n{says}\n")
        path.chmod(0o755)
    monkeypatch.setenv("PYENV_ROOT", str(tmp_path / "none"))
    places = [str(tmp_path / folder) for folder in ("a", "gone", "b", "shims")]
    monkeypatch.setattr("os.get_exec_path", lambda: places)
    found, passed_over = find_interpreters()
    assert [one.version for one in found] == ["3.12.1", "3.14.0"]
    assert passed_over == [
        f"{tmp_path}/a/python3.13: cannot be used (built without sqlite3)",
        f"{tmp_path}/b/python3.12: 3.12 is tried with {tmp_path}/a/python3.12",
    ]


def test_a_warning_or_another_end_is_a_failure() -> None:
    with pytest.raises(Failed, match="ends with 3"):
        run([sys.executable, "-c", "raise SystemExit(3)"])
    with pytest.raises(Failed, match="DeprecationWarning: old"):
        run([sys.executable, "-c", "import warnings; warnings.warn('old', DeprecationWarning)"])
