"""The card is never written to: not by the store, not by a link, not beside a file named."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from pathlib import Path

import platformdirs
import pytest

from auditor.audit import run_audit
from auditor.files.mounts import lies_within
from auditor.model.errors import WrongCall
from auditor.model.settings import Settings
from auditor.read.card import find_files
from auditor.report.picture_files import PICTURES_FOLDER
from auditor.report.write import SHEETS
from auditor.request import AuditRequest, check_call, check_reports_off_card
from auditor.single import audit_frame
from tests.evening_audit import KeepingListener


@pytest.fixture
def card(tmp_path: Path) -> Path:
    """A card with one file that looks raw."""
    folder = tmp_path / "card" / "DCIM" / "100SELMR"
    folder.mkdir(parents=True)
    (folder / "A_0001.DNG").write_bytes(b"")
    return tmp_path / "card"


def on_card(card: Path) -> set[str]:
    return {path.relative_to(card).as_posix() for path in card.rglob("*")}


BEFORE = {"DCIM", "DCIM/100SELMR", "DCIM/100SELMR/A_0001.DNG"}


@pytest.mark.parametrize("named", [".", "DCIM", "DCIM/100SELMR", "DCIM/100SELMR/A_0001.DNG"])
@pytest.mark.parametrize("out", [".", "audit", "DCIM/100SELMR", "DCIM/audit"])
def test_no_report_lands_on_the_card_whatever_of_it_is_named(
    card: Path, named: str, out: str
) -> None:
    request = AuditRequest((str(card / named),), card / out, keep_store=False)
    with pytest.raises(WrongCall, match="never written to"):
        run_audit(request, KeepingListener())
    assert on_card(card) == BEFORE


@pytest.mark.parametrize("out", ["DCIM/100SELMR", "sheets"])
def test_no_sheet_of_one_frame_lands_on_the_card(card: Path, out: str) -> None:
    with pytest.raises(WrongCall, match="never written to"):
        audit_frame(str(card / "DCIM/100SELMR/A_0001.DNG"), card / out, Settings())
    assert on_card(card) == BEFORE


def test_a_file_outside_any_card_guards_its_own_folder_alone(tmp_path: Path) -> None:
    (tmp_path / "shoot").mkdir()
    file = tmp_path / "shoot" / "A_0001.DNG"
    file.write_bytes(b"")
    check_reports_off_card([str(file)], tmp_path / "sheets")
    with pytest.raises(WrongCall, match="never written to"):
        check_reports_off_card([str(file)], tmp_path / "shoot")


def test_the_users_own_store_is_not_made_on_the_card(
    card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(platformdirs, "user_data_path", lambda *_, **__: card / "data")
    request = AuditRequest((str(card),), tmp_path / "out")
    with pytest.raises(WrongCall, match="The store would land on the card"):
        check_call(request)
    with pytest.raises(WrongCall, match="The store would land on the card"):
        run_audit(request, KeepingListener())
    assert on_card(card) == BEFORE


@pytest.mark.parametrize("inner", [SHEETS, PICTURES_FOLDER])
def test_a_link_in_the_reports_folder_does_not_lead_onto_the_card(
    card: Path, tmp_path: Path, inner: str
) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / inner).symlink_to(card, target_is_directory=True)
    with pytest.raises(WrongCall, match="never written to"):
        check_reports_off_card([str(card)], tmp_path / "out" / inner / "A.png")


def test_a_card_within_the_reports_folder_is_seen(card: Path, tmp_path: Path) -> None:
    card.rename(tmp_path / SHEETS)
    request = AuditRequest((str(tmp_path / SHEETS),), tmp_path, keep_store=False)
    with pytest.raises(WrongCall, match="never written to"):
        check_call(request)


SCHEMES = ["file://", "FILE://", "local://", "Local://", "file://localhost"]


@pytest.mark.parametrize("scheme", SCHEMES)
def test_the_card_by_an_address_is_the_card(card: Path, tmp_path: Path, scheme: str) -> None:
    for named in (card, card / "DCIM/100SELMR/A_0001.DNG"):
        request = AuditRequest((f"{scheme}{named}",), card / "audit", keep_store=False)
        with pytest.raises(WrongCall, match="never written to"):
            run_audit(request, KeepingListener())
    assert on_card(card) == BEFORE
    check_reports_off_card([f"{scheme}{card}"], tmp_path / "out")


def test_an_archive_on_the_card_guards_its_folder(card: Path, tmp_path: Path) -> None:
    archive = f"zip://DCIM::file://{card}/frames.zip"
    with pytest.raises(WrongCall, match="never written to"):
        check_reports_off_card([archive], card / "frames.zip" / "audit")
    check_reports_off_card([archive], tmp_path / "out")


def test_an_address_with_escapes_names_the_same_card(tmp_path: Path) -> None:
    folder = tmp_path / "my card"
    folder.mkdir()
    (folder / "A_0001.DNG").write_bytes(b"")
    address = f"file://{tmp_path}/my%20card"
    with pytest.raises(WrongCall, match="never written to"):
        check_reports_off_card([address], folder / "audit")
    assert [file.file for file in find_files([address]).unread] == ["A_0001.DNG"]


@pytest.fixture
def bound(card: Path, tmp_path: Path) -> Iterator[Path]:
    """The folder of frames mounted a second time, elsewhere."""
    point = tmp_path / "bound"
    point.mkdir()
    made = subprocess.run(
        ["mount", "--bind", str(card / "DCIM"), str(point)], check=False, capture_output=True
    )
    if made.returncode:
        pytest.skip("mounting needs the superuser")
    yield point
    subprocess.run(["umount", str(point)], check=True, capture_output=True)


@pytest.mark.parametrize("named", [".", "DCIM"])
def test_a_second_mount_of_the_card_is_the_card(
    card: Path, tmp_path: Path, bound: Path, named: str
) -> None:
    for out in (bound, bound / "audit", bound / "100SELMR" / "audit"):
        with pytest.raises(WrongCall, match="never written to"):
            check_reports_off_card([str(card / named)], out)
    with pytest.raises(WrongCall, match="never written to"):
        check_reports_off_card([str(bound)], card / "DCIM" / "audit")
    check_reports_off_card([str(card)], tmp_path / "out")
    assert on_card(card) == BEFORE


def test_the_table_of_mounts_is_read_with_its_escapes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = tmp_path / "mountinfo"
    lines = [
        "1 0 8:1 / / rw - ext4 /dev/a rw",
        "2 1 8:17 / /media/my\\040card rw - exfat /dev/b rw",
        "3 1 8:17 /DCIM /srv/frames rw - exfat /dev/b rw",
        "4 1 8:33 / /srv/other rw - exfat /dev/c rw",
    ]
    table.write_text("\n".join(lines) + "\n", encoding="ascii")
    monkeypatch.setattr("auditor.files.mounts.MOUNTS", table)
    card = Path("/media/my card")
    assert lies_within(Path("/srv/frames/audit"), card)
    assert lies_within(Path("/srv/frames/audit"), card / "DCIM")
    assert not lies_within(Path("/srv/frames/audit"), card / "DCIM" / "100")
    assert not lies_within(Path("/srv/other/DCIM/audit"), card)
    assert not lies_within(Path("/srv/audit"), card)
    assert lies_within(card / "DCIM" / "out", Path("/srv/frames"))
    table.unlink()
    assert not lies_within(Path("/srv/frames/audit"), card)
