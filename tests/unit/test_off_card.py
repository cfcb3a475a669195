"""The card is never written to: not by the store, not by a link, not beside a file named."""

from __future__ import annotations

from pathlib import Path

import platformdirs
import pytest

from auditor.audit import run_audit
from auditor.model.errors import WrongCall
from auditor.model.settings import Settings
from auditor.report.html import BESIDE_FOLDER
from auditor.report.write import SHEETS
from auditor.request import AuditRequest, check_call, check_reports_off_card
from auditor.single import audit_frame
from tests.evening_audit import SilentWatch


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
        run_audit(request, SilentWatch())
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
        run_audit(request, SilentWatch())
    assert on_card(card) == BEFORE


@pytest.mark.parametrize("inner", [SHEETS, BESIDE_FOLDER])
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
