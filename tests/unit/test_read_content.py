"""A file is what its bytes are: read once, digested, and asked about before and after."""

from __future__ import annotations

import io
import os
from collections.abc import Iterator
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path

import pytest

from auditor.model.errors import UnreadableFile
from auditor.model.facts import FileLook
from auditor.read import content
from auditor.read.content import END_BYTES, OpenedFile, look_at, open_file, read_content


def look(path: Path) -> FileLook:
    with open_file(str(path)) as opened:
        assert opened is not None
        return look_at(opened)


def made(path: Path, data: bytes, modified_ns: int = 10**18) -> Path:
    path.write_bytes(data)
    os.utime(path, ns=(modified_ns, modified_ns))
    return path


LONG = bytes(range(256)) * 1024


def rotten(data: bytes) -> bytes:
    middle = len(data) // 2
    return data[:middle] + bytes([data[middle] ^ 1]) + data[middle + 1 :]


def test_the_digest_is_that_of_all_bytes(tmp_path: Path) -> None:
    read = read_content(str(made(tmp_path / "a", LONG)))
    assert read.data == LONG
    assert sha256(LONG).hexdigest().startswith(read.digest)
    assert len(read.digest) == 32


def test_the_reader_and_the_quick_look_see_the_same_file(tmp_path: Path) -> None:
    for size in (1, END_BYTES - 1, END_BYTES, END_BYTES + 1, 2 * END_BYTES, len(LONG)):
        path = made(tmp_path / "a", LONG[:size])
        assert read_content(str(path)).look == look(path)


def test_one_bit_in_the_middle_is_another_file_of_the_same_ends(tmp_path: Path) -> None:
    whole, copy = made(tmp_path / "a", LONG), made(tmp_path / "b", LONG)
    other = made(tmp_path / "c", rotten(LONG))
    assert look(whole).ends == look(copy).ends == look(other).ends
    assert read_content(str(whole)).digest == read_content(str(copy)).digest
    assert read_content(str(other)).digest != read_content(str(whole)).digest


@pytest.mark.parametrize("place", [0, 60_000, len(LONG) - 60_000, len(LONG) - 1])
def test_one_bit_at_either_end_is_no_copy(tmp_path: Path, place: int) -> None:
    other = LONG[:place] + bytes([LONG[place] ^ 1]) + LONG[place + 1 :]
    ends = look(made(tmp_path / "a", LONG)).ends
    assert look(made(tmp_path / "b", other)).ends != ends
    assert read_content(str(made(tmp_path / "b", other))).look.ends != ends
    assert look(made(tmp_path / "c", LONG + LONG[:256])).ends != ends


def test_bytes_changed_in_place_are_seen_at_a_look_though_size_and_time_stay(
    tmp_path: Path,
) -> None:
    path = made(tmp_path / "a", LONG)
    before = look(path)
    assert look(path) == before
    assert look(made(path, rotten(LONG))).key != before.key


def test_the_same_bytes_in_another_place_are_looked_at_anew(tmp_path: Path) -> None:
    assert look(made(tmp_path / "a", LONG)).key != look(made(tmp_path / "b", LONG)).key


class Failing(io.BytesIO):
    """A medium with a place that cannot be read."""

    def read(self, size: int | None = -1, /) -> bytes:
        if size is None or size < 0:
            raise OSError(5, "Input/output error")
        return super().read(size)


def test_a_read_error_in_the_middle_is_the_medium_s(monkeypatch: pytest.MonkeyPatch) -> None:
    @contextmanager
    def opened(path: str) -> Iterator[OpenedFile]:
        yield OpenedFile(Failing(LONG), len(LONG), "")

    monkeypatch.setattr(content, "open_file", opened)
    with pytest.raises(UnreadableFile, match="another reader") as caught:
        read_content("a")
    assert caught.value.code == "input-error"


class Writing:
    """A writer that changes a file each time a reader has read it, so many times."""

    def __init__(self, path: Path, times: int) -> None:
        self.path, self.left, self.fstat = path, times, os.fstat
        self.calls = 0

    def __call__(self, handle: int) -> os.stat_result:
        self.calls += 1
        if self.calls % 2 == 0 and self.left:
            self.left -= 1
            made(self.path, rotten(self.path.read_bytes()), modified_ns=10**18 + self.calls)
        return self.fstat(handle)


def test_a_file_that_changes_while_it_is_read_is_read_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = made(tmp_path / "a", LONG)
    monkeypatch.setattr(os, "fstat", Writing(path, 1))
    read = read_content(str(path))
    assert read.data == path.read_bytes() == rotten(LONG)


def test_a_file_that_never_stands_still_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = made(tmp_path / "a", LONG)
    monkeypatch.setattr(os, "fstat", Writing(path, 9))
    with pytest.raises(UnreadableFile, match="still writes it") as caught:
        read_content(str(path))
    assert caught.value.code == "changed"


def test_a_file_replaced_by_a_pipe_waits_for_nobody(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "a")
    with pytest.raises(UnreadableFile, match="pipe") as caught:
        read_content(str(tmp_path / "a"))
    assert caught.value.code == "changed"


def test_a_file_that_is_gone_is_told(tmp_path: Path) -> None:
    with pytest.raises(UnreadableFile) as caught:
        read_content(str(tmp_path / "a"))
    assert caught.value.code == "vanished"


def test_an_empty_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(UnreadableFile) as caught:
        read_content(str(made(tmp_path / "a", b"")))
    assert caught.value.code == "empty"


@pytest.mark.parametrize(
    "sizes", [(5000, 5000), (5000, 9000), (9000, 5000), (9000, 100), (1, 70000)]
)
def test_a_file_read_over_the_last_one_holds_its_own_bytes_and_no_others(
    tmp_path: Path, sizes: tuple[int, int]
) -> None:
    files = [made(tmp_path / f"{n}.dng", os.urandom(size)) for n, size in enumerate(sizes)]
    for file in files:
        alone, over = read_content(str(file)), read_content(str(file), over_last=True)
        assert (bytes(over.data), over.digest, over.look) == (alone.data, alone.digest, alone.look)
        assert over.digest == sha256(file.read_bytes()).hexdigest()[:32]


def test_files_read_over_each_other_share_their_place_unless_somebody_looks(tmp_path: Path) -> None:
    files = [made(tmp_path / f"{n}.dng", bytes([n]) * 5000) for n in (1, 2, 3)]
    first, second = (read_content(str(file), over_last=True).data for file in files[:2])
    assert first is second
    with memoryview(second) as kept:
        third = read_content(str(files[2]), over_last=True).data
        assert bytes(kept) == bytes([2]) * 5000
        assert bytes(third) == bytes([3]) * 5000


def test_a_file_that_grows_while_it_is_read_over_the_last_one_is_read_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = made(tmp_path / "a.dng", b"a" * 5000)

    @contextmanager
    def growing(path: str) -> Iterator[OpenedFile | None]:
        with open_file(path) as opened:
            if file.stat().st_size == 5000:
                file.write_bytes(b"b" * 6000)
            yield opened

    monkeypatch.setattr(content, "open_file", growing)
    assert read_content(str(file), over_last=True).data == b"b" * 6000
