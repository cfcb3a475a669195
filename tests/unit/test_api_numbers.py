"""Rows, maps, charts and short reprs: the numbers of an audit in a notebook's hands."""

from __future__ import annotations

import csv
import io
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from threading import Event, Thread

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from auditor import api
from auditor.model.audit import Audit
from auditor.report.csv_report import csv_parts
from auditor.report.plain_records import audit_to_plain
from auditor.report.tables import TABLES
from tests.builders import make_audit
from tests.built_dng import flat, write_dng


@pytest.fixture(scope="module")
def audit() -> Audit:
    return make_audit(24)[0]


@pytest.fixture(scope="module")
def card(tmp_path_factory: pytest.TempPathFactory) -> Path:
    card = tmp_path_factory.mktemp("card")
    for number in (1, 2):
        write_dng(card / f"A_000{number}.DNG", flat())
    return card


@pytest.mark.parametrize("table", TABLES)
def test_every_row_of_a_table_has_the_same_columns(audit: Audit, table: str) -> None:
    assert len({tuple(row) for row in api.rows(audit, table)}) <= 1
    cells = [cell for row in api.rows(audit, table) for cell in row.values()]
    assert all(cell is None or type(cell) in (str, int, float, bool) for cell in cells)


def test_columns_are_the_paths_of_the_json(audit: Audit) -> None:
    plain = audit_to_plain(audit)["frames"]
    assert isinstance(plain, list)
    for row, frame in zip(api.rows(audit, "frames"), plain, strict=True):
        assert row["exposure_ev100"] == frame["exposure"]["ev100"]
        assert row["error_kind"] == (frame["error"] or {"kind": None})["kind"]
        assert row["findings"] == "; ".join(one["code"] for one in frame["findings"])
    pair = api.rows(audit, "pairs")[0]
    assert pair["filter_stops_by_channel_R"] == pytest.approx(
        audit.siblings[0].filter_stops_by_channel["R"], abs=1e-4
    )
    assert {row["frame"] for row in api.rows(audit, "channels")} <= {f.id for f in audit.frames}


def test_the_csv_has_the_columns_of_the_frames(audit: Audit) -> None:
    head = next(csv.reader(io.StringIO(b"".join(csv_parts(audit)).decode())))
    mappings = ("white_balance_", "preview_early_by_channel", "preview_by_white_balance")
    own = {name for name in api.rows(audit, "frames")[0] if not name.startswith(mappings)}
    assert own <= set(head)


def test_a_table_misspelt_is_answered_by_the_nearest(audit: Audit) -> None:
    with pytest.raises(api.AuditorError, match="frames"):
        api.rows(audit, "frame")


def test_records_show_themselves_shortly_and_safely(audit: Audit) -> None:
    hostile = replace(audit.frames[0], id="<script>alert(1)</script>\n")
    for record in (audit, audit.frames[0], audit.siblings[0], hostile):
        assert len(repr(record)) < 400
        assert "\n" not in repr(record)
        assert record._repr_html_().startswith("<table>")
    assert "<script>" not in hostile._repr_html_()
    assert len(repr(audit.frames[0].channels[0])) < 1200


def new_axes() -> Axes:
    return Figure().subplots()


def legend(ax: Axes) -> list[str]:
    told = ax.get_legend()
    assert told is not None
    return [text.get_text() for text in told.get_texts()]


def test_greens_that_differ_are_drawn_each(audit: Audit) -> None:
    frame = audit.frames[0]
    apart = tuple(
        replace(one, median_stops=9.0) if one.name == "G2" else one for one in frame.channels
    )
    ax = api.plot_histogram(replace(frame, channels=apart), new_axes())
    named = ["Red", "Green beside red", "Green beside blue", "Blue", "Saturation"]
    assert legend(ax) == named


def test_the_scale_of_a_filter_map_is_not_taken_by_a_few_cells(audit: Audit) -> None:
    stops = ((6.2, 6.2, 6.21), (6.19, 6.2, 6.2), (6.2, 6.22, 6.2), (6.2, 6.2, 2.0))
    pair = replace(audit.siblings[0], density_map=stops)
    (shown,) = api.plot_filter_map(pair, new_axes()).images
    assert shown.get_clim() == pytest.approx((5.9, 6.5))
    spread = replace(pair, density_map=((5.0, 7.0), (5.0, 7.0)))
    assert api.plot_filter_map(spread, new_axes()).images[0].get_clim() == pytest.approx((5.0, 7.0))


def test_charts_are_drawn_on_the_axes_given(audit: Audit) -> None:
    ax = new_axes()
    assert api.plot_histogram(audit.frames[0], ax) is ax
    assert legend(ax) == ["Red", "Green", "Blue", "Saturation"]
    pair = audit.siblings[0]
    bars = api.plot_pair(pair, new_axes())
    tops = [bar.get_y() + bar.get_height() for bar in bars.patches if isinstance(bar, Rectangle)]
    assert tops == pytest.approx(list(pair.filter_stops_by_channel.values()))
    assert [text.get_text() for text in bars.texts] == [f"{top:.2f}" for top in tops]
    light = api.plot_timeline(audit, new_axes())
    drawn = sum(np.shape(one.get_offsets())[0] for one in light.collections)
    assert drawn == len([point for point in audit.light if point.captured_at is not None])
    assert light.get_xlabel() == "Time"
    pair = replace(pair, density_map=((6.0, 6.5), (None, 6.1)))
    (shown,) = api.plot_filter_map(pair, new_axes()).images
    cells = shown.get_array()
    assert cells is not None
    assert np.sum(np.ma.getmaskarray(cells)) == 1
    with pytest.raises(api.AuditorError, match="not measured"):
        api.plot_filter_map(replace(pair, density_map=()))
    with pytest.raises(api.AuditorError, match="not measured"):
        api.plot_histogram(replace(audit.frames[0], channels=()))


def test_measurements_are_the_maps_that_were_judged(card: Path, tmp_path: Path) -> None:
    store = tmp_path / "store.sqlite"
    audit = api.audit_shoot(card, store=store)
    known: list[api.Progress] = []
    again = api.audit_shoot(card, store=store, progress=known.append)
    assert known[0] == api.Progress("Measuring", 2, 2)
    frames = list(api.measurements(again, store=store))
    assert [frame.id for frame in frames] == [frame.id for frame in audit.frames]
    for frame in frames:
        told = audit.frame(frame.id)
        assert told.size is not None
        assert float((frame.any_blown * frame.weight).sum()) == pytest.approx(told.blown_fraction)
        assert (frame.x_edges_px[-1], frame.y_edges_px[-1]) == (told.size.width, told.size.height)
        assert frame.any_blown.shape == (len(frame.y_edges_px) - 1, len(frame.x_edges_px) - 1)
        pixels = sum(int(plane.counts.sum()) for plane in frame.planes.values())
        assert pixels == told.size.width * told.size.height
        assert all(len(plane.dn) == len(plane.counts) for plane in frame.planes.values())
    (one,) = api.measurements(audit, [audit.frames[1].id])
    assert np.array_equal(one.planes["R"].counts, frames[1].planes["R"].counts)
    with pytest.raises(api.AuditorError, match="no such frame"):
        next(api.measurements(audit, ["nothing"]))


def test_an_audit_stops_where_it_is_told_to_and_goes_on(card: Path, tmp_path: Path) -> None:
    stop, store = Event(), tmp_path / "store.sqlite"

    def tell(progress: api.Progress) -> None:
        if progress.file:
            stop.set()

    with pytest.raises(api.Stopped):
        api.audit_shoot(card, store=store, workers=1, progress=tell, stop=stop)
    begun: list[api.Progress] = []
    assert api.audit_shoot(card, store=store, progress=begun.append).complete
    assert begun[0].done >= 1


INTERRUPTED = """
import signal, sys
# a suite run in the background hands the key down as ignored
signal.signal(signal.SIGINT, signal.default_int_handler)
from auditor.api import audit_shoot

if __name__ == "__main__":
    try:
        audit_shoot(sys.argv[1], store=sys.argv[2], workers=1,
                    progress=lambda told: print(told.stage, told.done, flush=True))
    except KeyboardInterrupt:
        print("interrupted")
"""


def test_the_interrupt_key_reaches_a_script_and_what_was_measured_is_kept(
    tmp_path: Path,
) -> None:
    (tmp_path / "card").mkdir()
    for number in range(40):
        write_dng(tmp_path / "card" / f"A_{number:04d}.DNG", flat(dn=500 + number))
    (tmp_path / "script.py").write_text(INTERRUPTED)
    words = [sys.executable, "script.py", "card", "store.sqlite"]
    with subprocess.Popen(words, cwd=tmp_path, stdout=subprocess.PIPE, text=True) as script:
        assert script.stdout is not None
        next(line for line in script.stdout if line.startswith("Measuring 2"))
        script.send_signal(signal.SIGINT)
        rest = script.stdout.read()
    assert script.returncode == 0
    assert rest.endswith("interrupted\n")
    assert "Measuring 40" not in rest
    begun: list[api.Progress] = []
    api.audit_shoot(tmp_path / "card", store=tmp_path / "store.sqlite", progress=begun.append)
    assert begun[0].done >= 2


def test_an_audit_is_stopped_from_another_thread(card: Path) -> None:
    stop, told = Event(), []

    def tell(progress: api.Progress) -> None:
        told.append(progress)
        if len(told) == 1:
            other = Thread(target=stop.set)
            other.start()
            other.join()

    with pytest.raises(api.Stopped):
        api.audit_shoot(card, workers=1, progress=tell, stop=stop)
    assert len(told) == 1


def test_the_interrupt_key_interrupts(card: Path) -> None:
    def press(progress: api.Progress) -> None:
        if progress.file:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt), pytest.warns(UserWarning, match="Stopped after"):
        api.audit_shoot(card, progress=press)
