"""Files at a URL: listed by the parent, read by the worker, told as any other file."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest
from fsspec.implementations.memory import MemoryFileSystem
from fsspec.registry import register_implementation

from auditor.examine import examine_file
from auditor.model.errors import UnreadableFile, WrongCall
from auditor.model.settings import MeasureSettings
from auditor.read.card import find_files
from auditor.read.content import read_content
from auditor.read.remote import is_url, walk_url
from auditor.read.walk import Walk, without_repeats
from auditor.task import ExamineTask
from tests.real_files import HERE

RAW = HERE / "compact-1996.kdc"


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card" / "DCIM" / "100"
    folder.mkdir(parents=True)
    (folder / "A_0010.KDC").write_bytes(RAW.read_bytes())
    (folder / "A_0010.JPG").write_bytes(b"\xff\xd8\xff\xe0 a picture")
    (folder / "A_0011.KDC").write_bytes(b"")
    return tmp_path / "card"


def zipped(card: Path) -> str:
    archive = card.parent / "card.zip"
    with zipfile.ZipFile(archive, "w") as target:
        for path in sorted(card.rglob("*.*")):
            target.write(path, path.relative_to(card).as_posix())
    return f"zip://DCIM::file://{archive}"


def test_a_url_is_told_from_a_path() -> None:
    assert is_url("s3://shoots/2026")
    assert is_url("zip://DCIM::file:///card.zip")
    assert not is_url("/media/card")
    assert not is_url("C:\\card")


def test_a_card_at_a_url_is_found_like_one_on_disk(card: Path) -> None:
    here, there = find_files([str(card)]), find_files([f"file://{card}"])
    assert [file.file for file in there.files] == [file.file for file in here.files]
    assert [file.kind for file in there.files] == [file.kind for file in here.files]
    assert there.files[0].companions == here.files[0].companions
    assert there.problems == here.problems


def test_a_frame_inside_an_archive_is_measured_to_the_same_figures(card: Path) -> None:
    (file,) = find_files([zipped(card)]).files
    assert file.file == "100/A_0010.KDC"
    settings = MeasureSettings()
    there = examine_file(ExamineTask(file.path, file.kind, settings))
    here = examine_file(ExamineTask(str(RAW), file.kind, settings))
    for plane, same in zip(there.mosaic.planes, here.mosaic.planes, strict=True):
        assert (plane.histogram.counts == same.histogram.counts).all()


class Hosted(MemoryFileSystem):  # type: ignore[misc]
    """A store that keeps the host to itself: its paths hold none, as with FTP."""

    protocol = "hosted"

    def __init__(self, host: str = "", **options: object) -> None:
        super().__init__(**options)
        self.host = host

    @classmethod
    def _strip_protocol(cls, path: str) -> str:
        return (
            "/" + path.removeprefix("hosted://").partition("/")[2].strip("/")
            if ("://" in path)
            else path
        )

    @staticmethod
    def _get_kwargs_from_urls(path: str) -> dict[str, str]:
        return {"host": path.removeprefix("hosted://").partition("/")[0]}


class Linked(MemoryFileSystem):  # type: ignore[misc]
    """A store whose paths are whole URLs, as with HTTP."""

    protocol = "linked"

    @classmethod
    def _strip_protocol(cls, path: str) -> str:
        return path

    def isfile(self, path: str) -> bool:
        return path.endswith(".KDC")

    def find(self, path: str) -> list[str]:
        return [f"{path}/DCIM/A.KDC"]


@pytest.mark.parametrize("store", [Hosted, Linked])
def test_a_file_below_a_url_keeps_its_host_and_names_it_once(store: type[MemoryFileSystem]) -> None:
    register_implementation(store.protocol, store, clobber=True)
    if store is Hosted:
        Hosted(host="pier").pipe("/card/DCIM/A.KDC", b"")
    walk = Walk()
    walk_url(walk, 0, f"{store.protocol}://pier/card/")
    (seen,) = walk.files
    assert (seen.path, seen.relative) == (f"{store.protocol}://pier/card/DCIM/A.KDC", "DCIM/A.KDC")


def test_the_same_path_on_two_hosts_is_two_files() -> None:
    register_implementation("hosted", Hosted, clobber=True)
    Hosted(host="pier").pipe("/card/A.KDC", b"")
    walk = Walk()
    for index, url in enumerate(["hosted://pier/card/A.KDC", "hosted://dune/card/A.KDC"]):
        walk_url(walk, index, url)
    assert len(without_repeats(walk)) == 2


def test_hidden_folders_at_a_url_are_left_alone(card: Path) -> None:
    for name in (".Trashes/501/B.KDC", "DCIM/.thumbs/C.KDC"):
        (card / name).parent.mkdir(parents=True)
        (card / name).write_bytes(RAW.read_bytes())
    here, there = find_files([str(card)]), find_files([f"file://{card}"])
    assert [file.file for file in there.files] == [file.file for file in here.files]
    assert there.passed_over == here.passed_over == {"(hidden folder)": 2}


def test_a_file_at_a_url_has_the_digest_of_its_bytes(card: Path) -> None:
    (file,) = find_files([zipped(card)]).files
    there = read_content(file.path)
    assert there.data == RAW.read_bytes()
    assert there.digest == read_content(str(RAW)).digest


def test_a_file_that_is_gone_is_told(card: Path) -> None:
    task = ExamineTask(f"file://{card}/DCIM/100/NONE.KDC", "tiff", MeasureSettings())
    with pytest.raises(UnreadableFile) as caught:
        examine_file(task)
    assert caught.value.code == "vanished"


def test_a_store_that_the_worker_does_not_know_is_told() -> None:
    with pytest.raises(UnreadableFile, match="cannot be fetched") as caught:
        read_content("nosuchscheme://a/b.dng")
    assert caught.value.code == "input-error"


@pytest.mark.parametrize("url", ["file:///nowhere/at/all", "nosuchscheme://a/b"])
def test_a_wrong_url_is_a_wrong_call(url: str) -> None:
    with pytest.raises(WrongCall):
        find_files([url])
