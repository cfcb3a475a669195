"""The history's other jobs at the terminal: how they end, and which options go together."""

from __future__ import annotations

from pathlib import Path

import pytest
import typer

from auditor.commands.history import history
from auditor.model.errors import WrongCall
from auditor.store.database import PAGE_BYTES
from auditor.store.store import Store
from tests.store_frames import SETTINGS, audit, measurement


@pytest.fixture
def export(tmp_path: Path) -> Path:
    with Store.open(tmp_path / "s.sqlite") as store:
        for number in range(3):
            store.put(f"key{number}", SETTINGS, measurement(number))
        store.save_shoot(audit(1))
        store.export(tmp_path / "all.auditor")
    return tmp_path / "all.auditor"


def test_a_whole_import_ends_with_0_and_says_what_was_new(
    export: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(typer.Exit) as end:
        history(import_=export, store=tmp_path / "new.sqlite")
    assert end.value.exit_code == 0
    assert capsys.readouterr() == ("Taken in: 3 measurements and 1 shoot.\n", "")


def test_an_import_with_a_gap_ends_with_1_and_says_so(
    export: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    content = export.read_bytes()
    start = 2 * PAGE_BYTES
    export.write_bytes(content[:start] + b"\xa5" * 16 + content[start + 16 :])
    with pytest.raises(typer.Exit) as end:
        history(import_=export, store=tmp_path / "new.sqlite")
    told = capsys.readouterr()
    assert end.value.exit_code == 1
    assert "1 shoot; 3 could not be read." in told.out
    assert "all.auditor: is damaged, and not all" in told.err


@pytest.mark.parametrize("option", ["--verify", "--export", "--import"])
def test_a_place_is_never_passed_over_in_silence(option: str, tmp_path: Path) -> None:
    file = tmp_path / "all.auditor"
    with pytest.raises(WrongCall, match=f"--at and {option} do not go together"):
        history(
            at="54.2,3.6",
            verify=option == "--verify",
            export=file if option == "--export" else None,
            import_=file if option == "--import" else None,
        )
