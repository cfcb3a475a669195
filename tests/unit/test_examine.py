"""One path in, one measurement out, as it is and packed."""

from __future__ import annotations

import pickle
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path

import pytest

from auditor.examine import _refuse_empty, examine_file, examine_packed
from auditor.model.codes import Damage
from auditor.model.errors import UnreadableFile
from auditor.model.measurement import DamageSign
from auditor.model.settings import MeasureSettings
from auditor.sensor.code_gaps import code_steps_dn
from auditor.store.store import Store
from auditor.task import ExamineTask
from tests.real_files import HERE
from tests.store_frames import same

SETTINGS = MeasureSettings()
TASK = ExamineTask(str(HERE / "compact-1996.kdc"), "kdc", SETTINGS)


def test_what_a_worker_packs_is_the_measurement(tmp_path: Path) -> None:
    sent = pickle.loads(pickle.dumps(examine_packed(TASK).result, protocol=5))
    with Store.open(tmp_path / "store.sqlite") as store:
        store.put("key", SETTINGS, sent)
        assert same(store.get("key", SETTINGS), examine_file(TASK))


def test_packed_it_is_less_to_send() -> None:
    packed, plain = (
        len(pickle.dumps(examine(TASK), protocol=5)) for examine in (examine_packed, examine_file)
    )
    assert packed < 0.8 * plain


def test_nothing_of_a_frame_is_kept_in_the_way_of_the_next() -> None:
    examine_file(TASK)
    assert code_steps_dn.cache_info().currsize, "it is remembered while a frame is measured"
    examine_packed(TASK)
    assert not code_steps_dn.cache_info().currsize


@pytest.mark.parametrize(("share", "refused"), [(0.95, True), (0.85, False)])
def test_a_picture_of_nothing_but_zeros_is_refused(share: float, refused: bool) -> None:
    sign = DamageSign(Damage.EMPTY_PLANE, share)
    with pytest.raises(UnreadableFile, match="its picture is zeros") if refused else nullcontext():
        _refuse_empty((sign,))
    _refuse_empty((replace(sign, kind=Damage.CONSTANT_BLOCK),))
