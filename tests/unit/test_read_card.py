"""Finding raw files: by content, with companions, copies, problems and all that is left aside."""

from __future__ import annotations

import os
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from auditor.model.errors import WrongCall
from auditor.model.facts import CardFindings
from auditor.read.card import find_files
from auditor.words.unread import FAILURE_CODES
from sample_generation.tiff import ASCII, BYTE, SHORT
from tests.built_containers import (
    IMAGE,
    Tags,
    cr3_file,
    crw_file,
    exif_tiff,
    jpeg_with_exif,
    mrw_file,
    plain_tiff,
    raf_file,
    x3f_file,
)

DNG = plain_tiff({**IMAGE, 50706: (BYTE, bytes((1, 4, 0, 0)))})
JPEG = jpeg_with_exif(exif_tiff())


def put(folder: Path, files: dict[str, bytes]) -> str:
    for name, content in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    return str(folder)


def dng(number: int) -> bytes:
    """A DNG that is no copy of another."""
    return DNG + number.to_bytes(4, "little")


def names(found: CardFindings) -> list[str]:
    return [file.file for file in found.files]


def problems(found: CardFindings) -> dict[str, str]:
    assert all(code in FAILURE_CODES and text for _, code, text in found.problems)
    return {name: code for name, code, _ in found.problems}


# --- kinds -----------------------------------------------------------------------------------

KINDS = {
    "dng": DNG,
    "cr3": cr3_file(),
    "raf": raf_file(exif_tiff()),
    "mrw": mrw_file(exif_tiff()),
    "x3f": x3f_file([]),
    "crw": crw_file("Brackwell", "Brackwell F24", 0),
    "cr2": b"II*\0\x10\0\0\0CR\2\0\0\0\0\0\0\0\0\0\0\0",
    "orf": b"IIRO" + exif_tiff()[4:],
    "rw2": b"IIU\0" + exif_tiff()[4:],
    "tiff": plain_tiff({0x010F: (ASCII, "Brackwell"), 33422: (BYTE, bytes(4))}),
}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", ["a.tif", "noname", "a.jpg"])
def test_content_tells_the_kind_under_any_name(tmp_path: Path, kind: str, name: str) -> None:
    (file,) = find_files([put(tmp_path, {name: KINDS[kind]})]).files
    assert (file.kind, file.file, file.size_bytes) == (kind, name, len(KINDS[kind]))


@pytest.mark.parametrize(
    "tags", [{262: (SHORT, 32803)}, {262: (SHORT, 34892)}, {259: (SHORT, 34713)}]
)
def test_signs_of_sensor_data_make_a_tiff_raw(tmp_path: Path, tags: Tags) -> None:
    (file,) = find_files([put(tmp_path, {"a.tif": plain_tiff({**IMAGE, **tags})})]).files
    assert file.kind == "tiff"


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "empty"),
        (JPEG, "not-raw"),
        (b"\0" * 4096, "damaged"),
        (b"hello, this is no picture", "not-raw"),
        (b"II", "not-raw"),
        (b"II+\0\x08\0\0\0", "unsupported"),
        (b"MM\0+\0\x08\0\0", "unsupported"),
    ],
)
def test_a_raw_name_with_something_else_in_it_is_a_problem(
    tmp_path: Path, content: bytes, code: str
) -> None:
    found = find_files([put(tmp_path, {"IMG_1.DNG": content})])
    assert (found.files, problems(found), found.passed_over) == ((), {"IMG_1.DNG": code}, {})


def test_a_raw_name_on_a_plain_tiff_is_left_to_the_decoder(tmp_path: Path) -> None:
    plain = plain_tiff({256: (SHORT, 10)})
    found = find_files([put(tmp_path, {"a.nef": plain, "b.tif": plain})])
    assert [(file.file, file.kind) for file in found.files] == [("a.nef", "tiff")]
    assert found.passed_over == {".tif": 1}


def test_all_else_is_counted_by_suffix(tmp_path: Path) -> None:
    files = {"a.JPG": JPEG, "b.jpg": JPEG, "c.mp4": b"x", "README": b"x", "e.mp4": b""}
    found = find_files([put(tmp_path, files)])
    assert found.passed_over == {"(no suffix)": 1, ".jpg": 2, ".mp4": 2}
    assert found.problems == ()


def test_resource_forks_of_foreign_cards_are_no_problem(tmp_path: Path) -> None:
    found = find_files([put(tmp_path, {"._IMG_1.DNG": b"\0\x05\x16\x07" + b"\0" * 99})])
    assert (found.problems, found.passed_over) == ((), {".dng": 1})


def test_a_resource_fork_named_by_itself_is_a_problem(tmp_path: Path) -> None:
    put(tmp_path, {"._IMG_1.DNG": b"\0\x05\x16\x07" + b"\0" * 99})
    found = find_files([str(tmp_path / "._IMG_1.DNG")])
    assert (problems(found), found.passed_over) == ({"._IMG_1.DNG": "not-raw"}, {})


def test_a_file_named_by_itself_must_be_raw(tmp_path: Path) -> None:
    put(tmp_path, {"a.jpg": JPEG})
    assert problems(find_files([str(tmp_path / "a.jpg")])) == {"a.jpg": "not-raw"}


# --- order, names and inputs -----------------------------------------------------------------


def test_files_come_in_the_order_people_count_in(tmp_path: Path) -> None:
    wanted = ["DCIM/100BW/IMG_9.DNG", "DCIM/100BW/IMG_10.DNG", "DCIM/101BW/IMG_1.DNG"]
    card = put(tmp_path, {name: dng(i) for i, name in enumerate(reversed(wanted))})
    assert names(find_files([card])) == wanted
    assert find_files([card]) == find_files([card])


def test_the_same_name_on_two_cards_gets_two_ids(tmp_path: Path) -> None:
    one = put(tmp_path / "one", {"IMG_1.DNG": dng(1), "IMG_2.DNG": b""})
    two = put(tmp_path / "two", {"IMG_1.DNG": dng(2), "IMG_2.DNG": b""})
    found = find_files([one, two])
    assert [file.id for file in found.files] == ["IMG_1.DNG", "2:IMG_1.DNG"]
    assert [file.input_index for file in found.files] == [0, 1]
    assert problems(found) == {"IMG_2.DNG": "empty", "2:IMG_2.DNG": "empty"}
    assert found.inputs == (one, two)


def test_ids_stay_apart_from_names_that_look_like_ids(tmp_path: Path) -> None:
    one = put(tmp_path / "one", {"a.dng": dng(1), "2:a.dng": dng(2)})
    two = put(tmp_path / "two", {"a.dng": dng(3)})
    ids = [file.id for file in find_files([one, two]).files]
    assert len(set(ids)) == 3


def test_names_of_other_bytes_are_shown_and_can_be_opened(tmp_path: Path) -> None:
    raw = os.fsencode(tmp_path) + b"/caf\xe9\n.dng"
    Path(os.fsdecode(raw)).write_bytes(DNG)
    (file,) = find_files([str(tmp_path)]).files
    assert file.file == file.id == "caf\\xe9\\u000a.dng"
    assert Path(file.path).read_bytes() == DNG


def test_a_file_given_twice_is_told_once(tmp_path: Path) -> None:
    card = put(tmp_path, {"DCIM/a.dng": DNG})
    found = find_files([card, card + "/DCIM", card + "/DCIM/a.dng"])
    assert [(file.id, file.also_at) for file in found.files] == [("DCIM/a.dng", ())]
    assert found.passed_over == {"(the same file again)": 2}


@pytest.mark.parametrize("path", ["nowhere", "a\0b"])
def test_a_path_that_is_not_there_is_a_wrong_call(tmp_path: Path, path: str) -> None:
    with pytest.raises(WrongCall, match="cannot be found"):
        find_files([f"{tmp_path}/{path}"])


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (PermissionError(13, "Permission denied"), "may not be read"),
        (OSError(5, "Input/output error"), r"could not be read \(Input/output error\)"),
    ],
)
def test_a_path_that_is_there_but_fails_is_not_told_as_missing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: OSError, told: str
) -> None:
    def refusing(_path: Path) -> os.stat_result:
        raise error

    monkeypatch.setattr(Path, "stat", refusing)
    with pytest.raises(WrongCall, match=told):
        find_files([str(tmp_path)])


def test_no_path_is_a_wrong_call() -> None:
    with pytest.raises(WrongCall):
        find_files([])


def test_a_device_is_a_wrong_call() -> None:
    with pytest.raises(WrongCall, match="device"):
        find_files([os.devnull])


# --- companions and copies -------------------------------------------------------------------


def test_companions_are_told_by_stem_within_their_folder(tmp_path: Path) -> None:
    files = {
        "a/IMG_1.DNG": dng(1),
        "a/img_1.jpg": JPEG,
        "a/IMG_1.xmp": b"<x/>",
        "a/IMG_1.DNG.xmp": b"<x/>",
        "a/IMG_10.JPG": JPEG,
        "b/IMG_1.JPG": JPEG,
    }
    found = find_files([put(tmp_path, files)])
    assert found.files[0].companions == ("a/IMG_1.DNG.xmp", "a/img_1.jpg", "a/IMG_1.xmp")
    assert found.passed_over == {".jpg": 2}


def test_a_file_named_by_itself_has_companions_too(tmp_path: Path) -> None:
    put(tmp_path, {"IMG_1.DNG": DNG, "IMG_1.JPG": JPEG, "IMG_2.JPG": JPEG})
    (file,) = find_files([str(tmp_path / "IMG_1.DNG")]).files
    assert file.companions == ("IMG_1.JPG",)


def test_a_quick_look_finds_what_may_be_a_copy_and_says_nothing_sure(tmp_path: Path) -> None:
    long = dng(7) + bytes(range(256)) * 1000
    one = put(tmp_path / "one", {"IMG_1.DNG": long, "IMG_2.DNG": dng(2)})
    two = put(tmp_path / "two", {"IMG_0001.DNG": long, "IMG_3.DNG": dng(3)})
    files = {file.id: file for file in find_files([one, two]).files}
    ends = {name: file.look.ends for name, file in files.items() if file.look}
    assert ends["IMG_1.DNG"] == ends["IMG_0001.DNG"]
    assert len(set(ends.values())) == 3
    assert all(not file.also_at and not file.content_key for file in files.values())


@pytest.mark.parametrize("change", ["first", "last", "size"])
def test_other_ends_are_another_file(tmp_path: Path, change: str) -> None:
    path = tmp_path / "a.dng"
    content = bytearray(DNG + bytes(200_000))
    path.write_bytes(content)
    before = find_files([str(path)]).files[0].look
    content[{"first": 200, "last": -1, "size": 300}[change]] ^= 1
    path.write_bytes(content + (b"x" if change == "size" else b""))
    after = find_files([str(path)]).files[0].look
    assert before is not None
    assert after is not None
    assert after.ends != before.ends


# --- odd things on a card --------------------------------------------------------------------


def test_rings_of_links_end(tmp_path: Path) -> None:
    card = put(tmp_path / "card", {"DCIM/a.dng": DNG})
    (tmp_path / "card" / "DCIM" / "back").symlink_to(tmp_path / "card")
    (tmp_path / "card" / "self.dng").symlink_to(tmp_path / "card" / "self.dng")
    found = find_files([card])
    assert names(found) == ["DCIM/a.dng"]
    assert problems(found) == {"self.dng": "vanished"}
    assert found.passed_over == {"(link to a folder)": 1}


def test_links_out_of_the_card_are_not_walked(tmp_path: Path) -> None:
    put(tmp_path / "elsewhere", {"b.dng": dng(2)})
    card = put(tmp_path / "card", {"a.dng": dng(1)})
    (tmp_path / "card" / "out").symlink_to(tmp_path / "elsewhere")
    assert names(find_files([card])) == ["a.dng"]


def test_a_path_that_is_a_link_itself_is_followed(tmp_path: Path) -> None:
    put(tmp_path / "card", {"a.dng": DNG})
    (tmp_path / "link").symlink_to(tmp_path / "card")
    assert names(find_files([str(tmp_path / "link")])) == ["a.dng"]


def test_links_to_files_count_once(tmp_path: Path) -> None:
    put(tmp_path / "elsewhere", {"b.dng": dng(2)})
    card = put(tmp_path / "card", {"z.dng": dng(1)})
    (tmp_path / "card" / "a.dng").symlink_to(tmp_path / "card" / "z.dng")
    (tmp_path / "card" / "c.dng").symlink_to(tmp_path / "elsewhere" / "b.dng")
    (tmp_path / "card" / "lost.dng").symlink_to(tmp_path / "card" / "nowhere.dng")
    (tmp_path / "card" / "lost.txt").symlink_to(tmp_path / "card" / "nowhere.txt")
    found = find_files([card])
    assert names(found) == ["c.dng", "z.dng"]
    assert problems(found) == {"lost.dng": "vanished"}
    assert found.passed_over == {"(link to nothing)": 1, "(the same file again)": 1}


def test_the_file_itself_stands_before_a_link_to_it_under_an_earlier_path(tmp_path: Path) -> None:
    links, card = put(tmp_path / "links", {}), put(tmp_path / "card", {"z.dng": dng(1)})
    (tmp_path / "links").mkdir(exist_ok=True)
    (tmp_path / "links" / "a.dng").symlink_to(tmp_path / "card" / "z.dng")
    found = find_files([links, card])
    assert [(file.input_index, file.file) for file in found.files] == [(1, "z.dng")]


@pytest.fixture
def odd_folder(tmp_path: Path) -> Iterator[str]:
    card = put(tmp_path / "c", {"a.dng": DNG})
    os.mkfifo(tmp_path / "c" / "pipe.dng")
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(str(tmp_path / "c" / "s.dng"))
        yield card


def test_pipes_and_sockets_are_never_opened(odd_folder: str) -> None:
    found = find_files([odd_folder])
    assert names(found) == ["a.dng"]
    assert found.passed_over == {"(device, pipe or socket)": 2}


def test_hidden_folders_are_left_alone(tmp_path: Path) -> None:
    files = {".Trashes/a.dng": dng(1), "System Volume Information/b.dng": dng(2), "c.dng": dng(3)}
    found = find_files([put(tmp_path, files)])
    assert names(found) == ["c.dng"]
    assert found.passed_over == {"(hidden folder)": 2}


def refuse(monkeypatch: pytest.MonkeyPatch, name: str, part: str, error: OSError) -> None:
    real = getattr(os, name)

    def refusing(path: str, *args: object) -> object:
        if part in os.fspath(path):
            raise error
        return real(path, *args)

    monkeypatch.setattr(os, name, refusing)


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (PermissionError(13, "Permission denied"), "no-permission"),
        (FileNotFoundError(2, "No such file"), "vanished"),
        (OSError(5, "Input/output error"), "input-error"),
    ],
)
def test_files_and_folders_that_cannot_be_read_are_problems(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: OSError, code: str
) -> None:
    files = {"a.dng": dng(1), "bad.dng": dng(2), "bad.txt": b"x", "locked/c.dng": dng(3)}
    card = put(tmp_path, files)
    refuse(monkeypatch, "open", "bad.", error)
    refuse(monkeypatch, "scandir", "locked", error)
    found = find_files([card])
    assert names(found) == ["a.dng"]
    assert problems(found) == {"bad.dng": code, "locked": code}
    assert found.passed_over == {".txt": 1}


def test_a_card_that_cannot_be_listed_at_all_is_a_problem(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    refuse(monkeypatch, "scandir", "card", PermissionError(13, "Permission denied"))
    assert problems(find_files([put(tmp_path / "card", {"a.dng": DNG})])) == {
        "card": "no-permission"
    }


def test_deep_trees_are_walked(tmp_path: Path) -> None:
    deep = tmp_path
    for level in range(150):
        deep = deep / f"d{level}"
    put(deep, {"a.dng": DNG})
    assert names(find_files([str(tmp_path)]))[0].endswith("d149/a.dng")


def test_looking_changes_nothing(tmp_path: Path) -> None:
    card = put(tmp_path, {"a.dng": DNG, "b.jpg": JPEG})
    before = {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*")}
    find_files([card])
    assert {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*")} == before
