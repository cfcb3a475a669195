"""Arrows point down only: no module imports one of a higher floor, lazily or for types either."""

from __future__ import annotations

import ast
import re
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "auditor"
FLOORS = {
    "model": 0,
    "files": 1, "light": 1, "sensor": 1, "words": 1, "findings": 1,
    "black": 1, "noise": 1, "defects": 1, "clipping": 1, "detail": 1, "preview": 1, "pictures": 1,
    "lens": 1,
    "group": 1, "history": 1, "print": 1, "figures": 1, "advise": 1, "rules": 1, "measures": 1,
    "read": 2, "store": 2, "engine": 2, "report": 2, "sidecar": 2,
    "examine": 3, "task": 3,
    "early": 4, "request": 4, "filing": 4, "gather": 4, "evidence": 4, "conclude": 4, "audit": 4,
    "spread": 4, "single": 4, "past": 4, "apply": 4, "api": 4, "measurements": 4,
    "between": 4, "console": 5, "commands": 5, "cli": 5, "__main__": 6,
}  # fmt: skip
ROOMS = (
    "files", "findings", "sensor", "black", "noise", "clipping", "defects", "pictures", "lens",
    "preview", "detail", "light", "history", "figures", "advise", "group", "print", "measures",
    "rules", "words",
)  # fmt: skip
"""The rooms of floor 1 from below: an arrow between two of them points down as well."""

DOORS = {name for name, floor in FLOORS.items() if floor == 2}
PIXEL_READERS = {"rawpy": "auditor/read/raw.py", "exifread": "auditor/read/exif.py"}


OUTSIDE = {"sqlite3", "subprocess", "socket", "urllib", "http", "requests", "shutil", "tempfile"}
TOUCHES = {
    "open", "read_text", "read_bytes", "write_text", "write_bytes", "unlink", "mkdir", "touch",
    "rename", "urlopen", "fromfile", "tofile", "memmap", "savez", "loadtxt",
}  # fmt: skip
"""What reads or writes, as a function or a method."""


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def room_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative imports hide the floor they reach"
            names.update({node.module or ""} | {f"{node.module}.{a.name}" for a in node.names})
    return names


def rooms_reached(path: Path) -> set[str]:
    rooms = {name.split(".")[1] for name in imported(path) if name.startswith("auditor.")}
    return {room for room in rooms if room in FLOORS}


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_arrows_point_down(path: Path) -> None:
    room = room_of(path)
    if room == "__init__":
        assert not rooms_reached(path), "the package's face must stay light"
        return
    floor = FLOORS[room]
    for other in rooms_reached(path) - {room}:
        assert FLOORS[other] <= floor, f"{room} (floor {floor}) reaches up to {other}"
        if floor == 2:
            assert other not in DOORS, f"the door {room} imports the door {other}"


def test_every_room_of_floor_one_has_its_place() -> None:
    assert sorted(ROOMS) == sorted(name for name, floor in FLOORS.items() if floor == 1)


def test_arrows_between_rooms_point_down() -> None:
    up = {
        (room, other)
        for path in modules()
        if (room := room_of(path)) in ROOMS
        for other in rooms_reached(path) & set(ROOMS)
        if ROOMS.index(other) > ROOMS.index(room)
    }
    assert not up, f"these point up: {sorted(up)}"


PROSE = {"text", "why", "reasons", "notes", "evidence", "message", "sentence", "caution", "told"}
CUTS = {
    "startswith", "endswith", "partition", "rpartition", "split", "removeprefix", "removesuffix",
    "replace", "find", "index", "count", "strip",
}  # fmt: skip


def is_void(node: ast.expr) -> bool:
    """Whether a text is only asked whether it tells anything: compared with nothing or a dash."""
    parts = node.elts if isinstance(node, ast.Tuple) else [node]
    return all(isinstance(part, ast.Constant) and part.value in ("", "–") for part in parts)


def prose_taken_apart(path: Path) -> set[int]:
    """Lines where what bears a sentence is cut, searched or compared."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        sides: list[ast.expr] = []
        if isinstance(node, ast.Compare) and not isinstance(node.ops[0], ast.Is | ast.IsNot):
            sides = [] if is_void(node.comparators[0]) else [node.left, *node.comparators]
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            sides = [node.func.value] if node.func.attr in CUTS else []
        if any(isinstance(side, ast.Attribute) and side.attr in PROSE for side in sides):
            found.add(getattr(node, "lineno", 0))
    return found


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_no_room_cuts_searches_or_compares_prose(path: Path) -> None:
    """What is told in words is asked by its code and its figures."""
    assert room_of(path) == "words" or not prose_taken_apart(path)


SENTENCE = re.compile(r"(?s)(?=(?:.*?[^\W\d_]{2,}\b){3}).*[\w)}%°”]\.(?:\s|$)")
"""Three words or more, and a full stop."""


HELP = {"help", "short_help", "metavar", "epilog"}
"""What the parser says of a command and its options stands where they are declared."""


def told_elsewhere(path: Path, *, raised: bool) -> set[str]:
    """Sentences that are neither docstrings nor a command's help; with or without errors' texts."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    said: set[int] = set()
    for node in ast.walk(tree):
        if (
            (isinstance(node, ast.Raise) and not raised)
            or (isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant))
            or (isinstance(node, ast.keyword) and node.arg in HELP)
            or (isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "EPILOG")
        ):
            said |= {id(part) for part in ast.walk(node)}
        elif isinstance(node, ast.JoinedStr):  # told whole
            said |= {id(part) for part in ast.walk(node) if part is not node}
    found = set()
    for node in ast.walk(tree):
        text = ""
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            text = node.value
        elif isinstance(node, ast.JoinedStr):
            parts = (p.value if isinstance(p, ast.Constant) else "{}" for p in node.values)
            text = "".join(map(str, parts))
        if id(node) not in said and SENTENCE.match(text):
            found.add(text)
    return found


def told_in(path: Path) -> set[str]:
    """Sentences that ought to stand in the words.

    On the floors under the words, and in the words' own, an error is raised with its text.
    """
    if path.name == "limits.py" or room_of(path) in ("words", "files"):
        return set()  # what a limit means: the documentation is made from it
    return told_elsewhere(path, raised=FLOORS.get(room_of(path), 9) >= 2)


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_sentences_are_made_in_words(path: Path) -> None:
    assert not told_in(path)


def test_a_sentence_is_known_as_one(tmp_path: Path) -> None:
    made = tmp_path / "made.py"
    made.write_text(
        '"""It is no sentence of ours."""\n'
        "A = 'The frame is blown.'\n"
        "B = f'{A} of the frame is blown, in {A} points. Look.'\n"
        "C, D = 'noise floor', f'{A}.json'\n"
        "E = option(help='The folder of the frames.')\n"
        "def f():\n    raise ValueError(f'{A} is not there. Give another.')\n",
        encoding="utf-8",
    )
    told = {"The frame is blown.", "{} of the frame is blown, in {} points. Look."}
    assert told_elsewhere(made, raised=False) == told
    assert told_elsewhere(made, raised=True) == told | {"{} is not there. Give another."}


def calls(path: Path) -> set[str]:
    called = [
        n.func for n in ast.walk(ast.parse(path.read_text("utf-8"))) if isinstance(n, ast.Call)
    ]
    return {f.id if isinstance(f, ast.Name) else getattr(f, "attr", "") for f in called}


def thinkers() -> list[Path]:
    return [p for p in modules() if FLOORS.get(room_of(p)) == 1 and room_of(p) != "files"]


@pytest.mark.parametrize("path", thinkers(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_what_thinks_neither_reads_nor_writes(path: Path) -> None:
    assert not {name.split(".")[0] for name in imported(path)} & OUTSIDE
    assert not calls(path) & TOUCHES


@pytest.mark.parametrize(("library", "home"), PIXEL_READERS.items())
def test_one_room_per_reader(library: str, home: str) -> None:
    users = {
        str(path.relative_to(PACKAGE.parent))
        for path in modules()
        if any(name.split(".")[0] == library for name in imported(path))
    }
    assert users == {home}


@pytest.mark.parametrize("path", sorted((PACKAGE / "model").glob("*.py")), ids=lambda p: p.name)
def test_facts_need_the_standard_library_and_numpy_only(path: Path) -> None:
    roots = {name.split(".")[0] for name in imported(path)}
    assert roots <= {*sys.stdlib_module_names, "numpy", "auditor"}


def test_tests_import_finds_something() -> None:
    assert len(modules()) > 10
