"""The same audit on a cluster of two real worker processes, one of them killed in the middle."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from auditor.audit import run_audit
from auditor.model.errors import FrameFailure
from auditor.request import AuditRequest
from tests.cluster_machines import Cluster
from tests.evening_audit import Evening, KeepingListener


class KillingListener(KeepingListener):
    """Kills a worker once a few files are examined."""

    def __init__(self, cluster: Cluster) -> None:
        super().__init__()
        self._cluster = cluster

    def examined(self, file: str, failure: FrameFailure | None) -> None:
        super().examined(file, failure)
        if len(self.examined_files) == 4:
            self._cluster.workers[0].kill()


def test_a_cluster_makes_the_same_audit_with_a_worker_killed(
    evening: Evening, tmp_path: Path
) -> None:
    cluster = Cluster(tmp_path)
    cluster.add_worker()
    cluster.add_worker()
    request = AuditRequest(
        evening.cards, tmp_path / "out", formats=("json",), keep_store=False,
        cluster=cluster.address,
    )  # fmt: skip
    listener = KillingListener(cluster)
    try:
        end = run_audit(request, listener)
    finally:
        cluster.close()
    assert len(listener.examined_files) > 30
    made_at = evening.end.audit.made_at
    assert replace(end.audit, made_at=made_at) == evening.end.audit
