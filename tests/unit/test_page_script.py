"""The page's script: its modules' own tests, how they are joined, how they are written."""

from __future__ import annotations

import shutil
import subprocess
import sysconfig
from importlib.resources import files
from pathlib import Path

import pytest

from auditor.report.bundle import CannotBundle, bundle
from auditor.report.html import page_script, page_style
from auditor.report.style import PALETTE

ROOT = Path(__file__).parent.parent.parent
SCRIPT = files("auditor.report").joinpath("templates", "script")
MOST_LINES = 300


def joined(**modules: str) -> str:
    texts = {f"{name}.js": text for name, text in modules.items()}
    return bundle("main.js", texts.__getitem__)


def test_the_modules_pass_their_own_tests() -> None:
    node = shutil.which("node")
    if node is None:
        pytest.skip("needs node on the path, to run the tests of the page's script")
    done = subprocess.run(
        [node, "--test", str(ROOT / "tests" / "script")],
        capture_output=True, text=True, timeout=240, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-2000:]
    assert "# pass 0" not in done.stdout


def test_script_and_style_are_formatted_and_linted() -> None:
    found = Path(sysconfig.get_path("scripts")) / "biome"
    if not found.exists():
        pytest.skip("needs the formatter of the development tools")
    done = subprocess.run(
        [str(found), "check", "--error-on-warnings"],
        capture_output=True, text=True, timeout=240, check=False, cwd=ROOT,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]


def test_every_module_is_joined_and_none_is_too_long() -> None:
    script = page_script()
    there = [part for part in SCRIPT.iterdir() if part.name.endswith(".js")]
    assert len(there) > 20
    for part in there:
        text = part.read_text(encoding="utf-8")
        assert f"/* {part.name} */" in script
        assert len(text.splitlines()) <= MOST_LINES, part.name
        assert max(map(len, text.splitlines())) <= 100, part.name
    assert "</script" not in script.lower()
    assert "<!--" not in script


def test_colours_of_the_page_come_from_the_palette_alone() -> None:
    style = page_style(("base.css",))
    for name, (day, dark) in PALETTE.items():
        assert style.count(f"--{name}: light-dark({day}, {dark})") == 1
    for part in files("auditor.report").joinpath("templates", "style").iterdir():
        text = part.read_text(encoding="utf-8")
        assert "</style" not in text.lower()
        assert max(map(len, text.splitlines())) <= 100, part.name
        named = {colour for pair in PALETTE.values() for colour in pair} - {"#ffffff"}
        assert not [colour for colour in named if colour in text]


def test_modules_are_joined_after_what_they_import_each_in_its_own_scope() -> None:
    script = joined(
        main='import { two } from "./two.js";\nconst own = 1;\ntwo(own);\n',
        two='import {\n  one,\n} from "./one.js";\n\nconst own = 2;\n'
        "export function two(n) { one(n + own); }\n",
        one="export const one = (n) => console.log(n);\nexport class Unused {}\n",
    )
    assert script.index("/* one.js */") < script.index("/* two.js */") < script.index("/* main")
    node = shutil.which("node")
    if node is None:
        pytest.skip("needs node on the path, to run what was joined")
    done = subprocess.run([node, "-e", script], capture_output=True, text=True, check=True)
    assert done.stdout == "3\n"


@pytest.mark.parametrize(
    ("modules", "told"),
    [
        ({"main": 'import { a } from "./b.js";\n', "b": "const a = 1;\n"}, "does not export a"),
        ({"main": 'import a from "./b.js";\n', "b": ""}, "not understood: import a"),
        ({"main": "export default 1;\n"}, "not understood: export default"),
        ({"main": "export let a = 1;\n"}, "not understood: export let"),
        (
            {
                "main": 'import { a } from "./b.js";\n',
                "b": 'import { c } from "./main.js";\nexport const a = 1;\n',
            },
            "main.js: imports itself",
        ),
    ],
)
def test_what_cannot_be_joined_safely_is_refused(modules: dict[str, str], told: str) -> None:
    with pytest.raises(CannotBundle, match=told):
        joined(**modules)
