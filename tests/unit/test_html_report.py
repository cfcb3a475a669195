"""The HTML report as a file: whole, alone, and closed to everything from outside."""

from __future__ import annotations

import json
import re
import zlib
from base64 import b64decode, b64encode
from dataclasses import replace
from hashlib import sha256

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays

from auditor.model.arrays import Bool
from auditor.model.codes import FrameStatus
from auditor.report.html import SMALL_PICTURE_BYTES
from auditor.report.html_data import (
    as_json,
    audit_key,
    map_text,
    packed,
    shares,
    unbroken,
)
from auditor.report.page import build_page
from auditor.report.picture_files import PICTURES_FOLDER
from auditor.words.cautions import GROUND_IN_SHORT
from tests.builders import make_audit
from tests.built_groups import make_kinds
from tests.elsewhere import Elsewhere, SharedSource
from tests.html_page import build_html


@pytest.fixture(scope="module")
def html() -> str:
    return build_html(*make_audit(), make_kinds()).html.decode("utf-8")


def test_policy_allows_this_script_and_style_and_nothing_else(html: str) -> None:
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', html)
    assert policy is not None
    told = policy.group(1).replace("&#39;", "'")
    for tag, kind in (("script", "script-src"), ("style", "style-src")):
        content = re.findall(rf"<{tag}>(.*?)</{tag}>", html, re.DOTALL)
        assert len(content) == 1
        digest = b64encode(sha256(content[0].encode()).digest()).decode()
        assert f"{kind} 'sha256-{digest}'" in told
    assert told.startswith("default-src 'none'; ")
    assert "unsafe" not in told


def test_nothing_points_out_of_the_file(html: str) -> None:
    links = re.findall(r'\b(?:src|href|action|srcset|poster)="([^"]*)"', html)
    assert links
    assert all(link.startswith("#") for link in links)
    addresses = set(re.findall(r"https?://[^\"'\s<)]+", html))
    assert addresses <= {"http://www.w3.org/2000/svg"}, "a namespace is a name, not an address"


def test_handlers_and_styles_stand_in_no_attribute(html: str) -> None:
    assert (
        re.findall(r"<[^>]+\son\w+=", re.sub(r"<script.*?</script>", "", html, flags=re.DOTALL))
        == []
    )
    assert ' style="' not in html


def test_the_same_audit_makes_the_same_bytes(html: str) -> None:
    assert build_html(*make_audit(), make_kinds()).html.decode("utf-8") == html


def test_hostile_text_stays_text() -> None:
    hostile = build_html(*make_audit(hostile=True), make_kinds()).html.decode("utf-8")
    assert hostile.count("<script") == hostile.count("</script>") == 5
    assert "<img src=x" not in hostile
    assert "\u202e" not in hostile
    assert "{{7*7}}" in hostile, "a template's marks in a name are shown, never run"


def test_every_frame_is_fetched_once() -> None:
    audit, measurements = make_audit()
    build_html(audit, measurements, make_kinds())
    measured = [frame.id for frame in audit.frames if frame.status == FrameStatus.MEASURED]
    assert sorted(measurements.asked) == sorted(measured)


def test_a_page_packed_in_pieces_elsewhere_is_the_same_to_the_last_byte(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("auditor.report.html.CHUNK", 7)
    audit, measurements = make_audit()
    engine, shared = Elsewhere(), SharedSource(measurements.recipes)
    here = build_html(audit, measurements, make_kinds(), roomy_up_to=5)
    there = build_html(audit, shared, make_kinds(), roomy_up_to=5, engine=engine)
    assert there == here
    assert engine.sent == 4
    assert len(shared.asked) == 7 < len(measurements.asked), "only what was lost is packed here"


def test_previews_lie_beside_a_large_report_and_small_pictures_in_it() -> None:
    audit, measurements = make_audit(6)
    report = build_html(audit, measurements, make_kinds(), roomy_up_to=5)
    names = {f"{PICTURES_FOLDER}/preview-{n:06d}.jpg" for n in range(1, 7)}
    assert set(report.beside) == names
    assert report.beside[f"{PICTURES_FOLDER}/preview-000001.jpg"].startswith(b"\xff\xd8")
    html = report.html.decode()
    for name in names:
        assert name in html
    pictures = re.findall(r"data:image/jpeg;base64,([A-Za-z0-9+/=]+)", html)
    assert len(pictures) == 6
    assert all(len(b64decode(picture)) <= SMALL_PICTURE_BYTES for picture in pictures)


def test_a_frame_takes_less_than_ten_kilobytes_of_a_large_page() -> None:
    one, measurements = make_audit(120)
    whole = len(build_html(one, measurements, make_kinds()).html)
    fixed = len(build_html(replace(one, frames=()), measurements, make_kinds()).html)
    assert (whole - fixed) / 120 < 10_000


def test_a_missing_measurement_costs_only_its_pictures() -> None:
    audit, measurements = make_audit()
    del measurements.recipes[audit.frames[3].id]
    assert b"S0004.dng" in build_html(audit, measurements, make_kinds()).html


@given(st.recursive(st.text() | st.none(), lambda inner: st.lists(inner, max_size=3), max_leaves=9))
def test_json_can_stand_inside_a_script(value: object) -> None:
    text = as_json(value)
    assert text.isascii()
    assert not set("<>&") & set(text)
    assert json.loads(text) == value


@given(arrays(np.bool_, array_shapes(min_dims=2, max_dims=2, max_side=40)))
def test_maps_come_back_from_their_runs(tiles: Bool) -> None:
    lengths = [int(run, 36) for run in map_text(tiles).split()]
    flat = [on for index, n in enumerate(lengths) for on in [index % 2 == 1] * n]
    assert flat == (tiles.ravel().tolist() if tiles.any() else [])


@given(st.lists(st.integers(0, 10**9), min_size=1, max_size=50))
def test_shares_show_whatever_is_there(counts: list[int]) -> None:
    told = shares(counts)
    assert [part > 0 for part in told] == [n > 0 for n in counts]
    total = sum(counts)
    assert all(
        abs(part / 1e6 - n / total) <= 1e-6 for part, n in zip(told, counts, strict=True) if n
    )


@given(st.recursive(st.text() | st.none(), lambda inner: st.lists(inner, max_size=3), max_leaves=9))
def test_what_is_packed_comes_back(value: object) -> None:
    """DEFLATE without a header (RFC 1951), as the browser's own unpacker takes it."""
    assert json.loads(zlib.decompress(b64decode(packed(value)), -zlib.MAX_WBITS)) == value


def test_numbers_keep_their_units_on_one_line() -> None:
    told = unbroken("1 min 21 s · f/11 · ISO 100, 0.32 % blown, 1.6 stops to spare")
    assert told.split(" ") == [
        "1\xa0min", "21\xa0s", "·", "f/11", "·", "ISO\xa0100,", "0.32\xa0%", "blown,",
        "1.6\xa0stops", "to", "spare",
    ]  # fmt: skip


def test_a_strength_is_not_parted_at_its_hyphen() -> None:
    assert unbroken("behind the 10-stop filter") == "behind the 10-\u2060stop filter"


def test_marks_belong_to_the_files_and_not_to_the_run() -> None:
    audit, _ = make_audit()
    key = audit_key(build_page(audit, {}))
    again = replace(audit, made_at="2031-09-15T08:00:00+01:00")
    assert audit_key(build_page(again, {})) == key
    fewer = replace(audit, frames=audit.frames[1:])
    assert audit_key(build_page(fewer, {})) != key


def test_the_ground_is_cautioned_of_where_advice_stands(html: str) -> None:
    overview = html[html.index('<section id="overview"') : html.index('<section id="timeline"')]
    advice = overview[overview.index('id="next-h"') :]
    assert advice.index("<ol") < advice.index(GROUND_IN_SHORT)
    template = html[html.index('<template id="ground">') : html.index("</template>")]
    assert GROUND_IN_SHORT in template
    assert "protect no eye" in template


def test_nothing_is_said_twice_on_the_first_screen(html: str) -> None:
    overview = html[html.index('<section id="overview"') : html.index('<section id="timeline"')]
    told = re.findall(r"<p>([^<]{40,})</p>", overview)
    assert len(told) == len(set(told)) > 2
