"""An engine in this process that works as others would: what it is sent is packed."""

from __future__ import annotations

import pickle
from collections.abc import Callable, Collection, Iterator, Sequence

from auditor.files.packing import pack
from auditor.model.outcome import Outcome, Result, Task
from tests.builders import DictMeasurementSource


class Elsewhere:
    """An engine that packs what it sends, ends it backwards, and loses the first piece."""

    def __init__(self) -> None:
        self.sent = 0

    def run(
        self, function: Callable[[Task], Result], tasks: Sequence[Task]
    ) -> Iterator[Outcome[Result]]:
        for index in reversed(range(len(tasks))):
            apart, task = pickle.loads(pack((function, tasks[index])))
            yield Outcome(index, apart(task) if index else None)
            self.sent += 1

    def close(self) -> None:
        raise AssertionError("whoever began it ends it")


class SharedSource(DictMeasurementSource):
    """A source that can be sent away."""

    def apart(self, frame_ids: Collection[str]) -> DictMeasurementSource:
        return DictMeasurementSource({name: self.recipes[name] for name in frame_ids})
