"""What lies in the pipes between a caller and its workers, and how little waits for it."""

from __future__ import annotations

import os
import pickle
import sys
import threading
import time
from multiprocessing.connection import Pipe
from pathlib import Path

import pytest

from auditor.engine.failures import Limits
from auditor.engine.pool import AT_ONCE_BYTES, WorkerPool
from auditor.engine.replies import Replies, send_reply
from auditor.model.settings import MeasureSettings
from auditor.task import ExamineTask, examine_packed
from tests.engine_work import Job, work

PAGE_BYTES = 4096


@pytest.mark.parametrize("length", [0, 7, 5_000_000])
def test_replies_come_whole_and_in_order(length: int) -> None:
    taken, given = Pipe(duplex=False)
    sent = [bytes([number]) * length for number in range(3)]

    def send() -> None:
        for reply in sent:
            send_reply(given, reply)

    sending = threading.Thread(target=send)
    sending.start()
    replies = Replies(taken)
    came: list[bytes] = []
    while len(came) < 3:
        assert taken.poll(60.0)
        if (reply := replies.take()) is not None:
            came.append(reply)
    sending.join()
    assert came == sent
    given.close()
    with pytest.raises(EOFError):
        replies.take()


@pytest.mark.skipif(os.name == "nt", reason="a message comes whole there")
def test_a_reply_is_taken_in_any_parts_and_its_rest_not_waited_for() -> None:
    own, other = Pipe(duplex=False)
    send_reply(other, b"reply")
    sent = os.read(own.fileno(), PAGE_BYTES)
    taken, given = Pipe(duplex=False)
    replies = Replies(taken)
    for number in range(len(sent)):
        assert replies.take() is None
        os.write(given.fileno(), sent[number : number + 1])
    assert replies.take() == b"reply"
    os.write(given.fileno(), sent[:-1])
    assert replies.take() is None
    given.close()
    with pytest.raises(EOFError):
        replies.take()


@pytest.mark.skipif(sys.platform != "linux", reason="only there a pipe can be made small")
def test_what_is_sent_while_nobody_reads_fits_the_smallest_pipe() -> None:
    """One page, for a user of many pipes: pipe(7), pipe-user-pages-soft."""
    from fcntl import F_SETPIPE_SZ, fcntl

    _taken, given = Pipe(duplex=False)
    assert fcntl(given.fileno(), F_SETPIPE_SZ, PAGE_BYTES) == PAGE_BYTES
    os.set_blocking(given.fileno(), False)
    given.send_bytes(bytes(AT_ONCE_BYTES))
    with pytest.raises(BlockingIOError):
        given.send_bytes(bytes(PAGE_BYTES))


def test_one_task_is_at_work_and_one_at_hand_though_nobody_takes_a_reply(tmp_path: Path) -> None:
    mark, pool = tmp_path / "mark", WorkerPool(1, Limits(20, 500), tasks_per_worker=200)
    jobs = [Job("honest", 1), Job("make", 2, str(mark)), Job("honest", 3)]
    for number, job in enumerate(jobs):
        pool.send(number, pickle.dumps((work, job)))
    deadline = time.monotonic() + 60
    while not mark.exists() and time.monotonic() < deadline:
        time.sleep(0.01)
    assert mark.exists()
    (worker,) = pool._staff
    assert worker._written == 2, "more together may not fit a pipe"
    pool.stop()


def test_a_file_in_deep_folders_is_no_large_task() -> None:
    task = ExamineTask("/" + "\N{SNOWFLAKE}" * 1000, "dng", MeasureSettings())
    assert len(pickle.dumps((examine_packed, task), protocol=5)) <= AT_ONCE_BYTES
