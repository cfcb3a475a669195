"""What needs no picture answers at once: nothing heavy is loaded for it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from auditor.store.store import Store
from tests.built_dng import clipping_ramp, write_dng

ARRAYS = {"numpy", "scipy", "sqlite3"}
DRAWING = {"matplotlib", "PIL", "jinja2"}
OTHERS = {"rawpy", "lxml", "ephem", "distributed"}
PROGRAM = (
    "import sys\n"
    "from auditor.cli import main\n"
    "try:\n    main()\n"
    "except SystemExit as end:\n    print('STATUS', end.code)\n"
    "print('LOADED', *sorted(set(sys.modules)))\n"
)


def loaded_by(*words: str) -> set[str]:
    status, modules = said_by(PROGRAM, *words)[-2:]
    assert status == "STATUS 0"
    return set(modules.split()[1:])


def loaded_with(module: str) -> set[str]:
    (modules,) = said_by(f"import sys, {module}\nprint(*sys.modules)")
    return set(modules.split())


def said_by(program: str, *words: str) -> list[str]:
    shown = subprocess.run(
        [sys.executable, "-c", program, *words],
        capture_output=True, text=True, timeout=60, check=True,
    )  # fmt: skip
    return shown.stdout.rstrip("\n").split("\n")


@pytest.mark.parametrize(
    "words",
    [
        ("--help",),
        ("audit", "--help"),
        ("history", "--help"),
        ("explain",),
        ("explain", "blown-area"),
        ("nd-time", "1/30", "--stops", "10", "--drift", "-0.2"),
    ],
    ids=" ".join,
)
def test_it_loads_no_arrays_and_opens_no_store(words: tuple[str, ...]) -> None:
    assert (ARRAYS | DRAWING | OTHERS) & loaded_by(*words) == set()


def test_the_store_is_asked_without_loading_what_draws(tmp_path: Path) -> None:
    words = ("nd-time", "1/30", "--stops", "3", "--card", str(tmp_path / "card.png"))
    assert DRAWING & loaded_by(*words), "drawing is seen when it is there"
    with Store.open(tmp_path / "store.sqlite") as store:
        asked = ("history", "--verify", "--store", str(store.path))
    assert DRAWING & loaded_by(*asked) == set()


def test_a_blown_frame_is_audited_and_drawn_without_a_library_of_charts_or_of_images(
    tmp_path: Path,
) -> None:
    (tmp_path / "card").mkdir()
    write_dng(tmp_path / "card" / "A_0001.DNG", clipping_ramp((96, 144), 1))
    out = tmp_path / "out"
    loaded = loaded_by("audit", str(tmp_path / "card"), "--out", str(out), "--no-store")
    assert (out / "sheets" / "A_0001.DNG.png").exists(), "the whole way was gone"
    assert "auditor.report.html" in loaded
    assert not {"matplotlib", "scipy"} & loaded


def test_figures_alone_are_audited_without_what_makes_a_page_or_a_moving_line(
    tmp_path: Path,
) -> None:
    (tmp_path / "card").mkdir()
    write_dng(tmp_path / "card" / "A_0001.DNG", clipping_ramp((96, 144), 1))
    loaded = loaded_by(
        "audit", str(tmp_path / "card"), "--out", str(tmp_path / "out"), "--no-store",
        "--format", "json,csv",
    )  # fmt: skip
    assert (tmp_path / "out" / "frames.csv").exists(), "the whole way was gone"
    assert not {"jinja2", "auditor.report.page", "rich.progress"} & loaded


def test_a_worker_that_runs_the_command_anew_loads_no_command_line() -> None:
    loaded = loaded_with("auditor.__main__")
    assert not {"typer", "auditor.cli"} & loaded


def test_a_worker_loads_what_it_measures_with_and_nothing_to_judge_or_to_store() -> None:
    loaded = loaded_with("auditor.examine")
    assert "rawpy" in loaded
    assert not {"matplotlib", "scipy"} & loaded_with("auditor.report.png_frame"), "nor to draw"
    assert not {"scipy", "matplotlib", "sqlite3", "typer", "jinja2"} & loaded
    assert not {"auditor.group", "auditor.advise", "auditor.figures", "auditor.report"} & loaded


def test_pixels_are_counted_by_one_compiled_module_without_the_package_around_it() -> None:
    program = (
        "import sys\nfrom auditor.sensor.histogram import sparse_products\n"
        "print(sparse_products() is not None, 'scipy' in sys.modules)\n"
        "from scipy.sparse import eye_array\n"
        "print((eye_array(2, format='csc') @ [3.0, 4.0]).tolist())"
    )
    assert said_by(program) == ["True False", "[3.0, 4.0]"], "found, alone, and in nobody's way"


def test_the_python_interface_loads_nothing_that_decodes_judges_or_draws() -> None:
    assert (ARRAYS | DRAWING | OTHERS | {"msgspec", "typer"}) & loaded_with("auditor.api") == set()


def test_importing_the_python_interface_takes_no_longer_than_importing_the_array_library() -> None:
    # processor time of each alone, the least of several, so that a busy machine changes nothing;
    # 0.4 s against numpy's 0.15 s was the aim
    assert import_s("auditor.api") <= 0.4 / 0.15 * import_s("numpy")


def import_s(module: str) -> float:
    program = f"import time\nbegun = time.process_time()\nimport {module}\n"
    program += "print(time.process_time() - begun)"
    return min(float(said_by(program)[0]) for _ in range(3))
