"""Pictures: text keeps to its own box, hatch and stipple lie where tones are lost."""

from __future__ import annotations

import io
import itertools
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from auditor.model.arrays import U8, Bool
from auditor.model.audit import Audit, FrameResult, SkyBalance, StopHistogram
from auditor.model.codes import FrameStatus, PlaneName
from auditor.model.findings import Finding, Severity
from auditor.report.frame_records import ToneBar
from auditor.report.page_pictures import LostMaps
from auditor.report.png_canvas import (
    A4_WIDTH,
    BODY,
    ELLIPSIS,
    Canvas,
    fitted,
    fitted_to_end,
    hatch_pattern,
    line_height,
    stipple_pattern,
    wrapped,
)
from auditor.report.png_contact import (
    COLUMNS,
    ROWS,
    draw_contact_page,
    planned_pages,
    thumbs_of,
)
from auditor.report.png_frame import build_frame_sheet, draw_frame_sheet
from auditor.report.png_marks import (
    LONGEST_CAP,
    StopsAxis,
    draw_bar,
    opened,
    with_line,
    with_losses,
)
from auditor.report.png_tables import sources
from auditor.report.png_tones import ABOVE_SATURATION, FULL_HEIGHT, histogram_strips
from auditor.report.style import (
    CARD,
    EDGE,
    INK,
    PAPER,
    PLANE_COLOURS,
    SOFT_INK,
    SOFTWARE,
    TRACK,
    Colour,
    cap_length,
    wedge_greys,
)
from auditor.words.kinds import KINDS
from tests.builders import DictMeasurementSource, make_audit
from tests.built_hostile import POISON

Made = tuple[Audit, DictMeasurementSource]


@pytest.fixture(scope="module", params=[False, True], ids=["plain", "hostile"])
def made(request: pytest.FixtureRequest) -> Made:
    return make_audit(26, hostile=request.param)


@pytest.fixture(scope="module")
def plain() -> Made:
    return make_audit(24)


def overlaps(canvas: Canvas) -> list[str]:
    """Pairs of texts of which one lies over the other."""
    return [
        f"{a.text[:30]!r} over {b.text[:30]!r}"
        for a, b in itertools.combinations(canvas.boxes, 2)
        if a.left < b.right and b.left < a.right and a.top < b.bottom and b.top < a.bottom
    ]


def outside(canvas: Canvas, bottom: int) -> list[str]:
    width = canvas.picture.width
    return [b.text for b in canvas.boxes if b.left < 0 or b.right > width or b.bottom > bottom]


def flagged(audit: Audit) -> Iterator[FrameResult]:
    """One frame a kind of verdict is enough to see every mark."""
    seen: set[str] = set()
    for frame in audit.frames:
        if frame.status == FrameStatus.MEASURED and frame.verdict not in seen:
            seen.add(frame.verdict)
            yield frame


def test_text_never_overlaps_on_a_sheet(made: Made) -> None:
    audit, measurements = made
    for frame in flagged(audit):
        canvas, bottom = draw_frame_sheet(frame, measurements.measurement(frame.id), KINDS)
        assert len(canvas.boxes) > 60
        assert overlaps(canvas) == []
        assert outside(canvas, bottom) == []


def test_text_never_overlaps_on_a_contact_sheet(made: Made) -> None:
    audit, measurements = made
    for page in planned_pages(audit):
        canvas = draw_contact_page(page, thumbs_of(audit, measurements, page))
        assert len(canvas.boxes) > 10 + 4 * len(page.frames)
        assert overlaps(canvas) == []
        assert outside(canvas, canvas.picture.height) == []


def test_our_own_words_are_never_cut(plain: Made) -> None:
    audit, measurements = plain
    (page, *_) = planned_pages(audit)
    sheets = [
        draw_frame_sheet(frame, measurements.measurement(frame.id), KINDS)[0]
        for frame in flagged(audit)
    ]
    boxes = [
        b
        for canvas in (draw_contact_page(page, thumbs_of(audit, measurements, page)), *sheets)
        for b in canvas.boxes
    ]
    assert [box.text for box in boxes if box.shortened or box.text.endswith(ELLIPSIS)] == []


def test_a_sheet_full_of_findings_and_notes_still_keeps_its_texts_apart(plain: Made) -> None:
    audit, measurements = plain
    frame = audit.frames[0]
    findings = tuple(
        Finding("blown-area", Severity.LOST, f"{number} " + "a sentence of some length " * 30)
        for number in range(40)
    )
    notes = tuple(f"{number} a note of some length " * 40 for number in range(40))
    crowded = replace(frame, findings=findings, notes=notes, companions=POISON * 9, also_at=notes)
    canvas, bottom = draw_frame_sheet(crowded, measurements.measurement(frame.id), KINDS)
    assert overlaps(canvas) == []
    assert outside(canvas, bottom) == []


@pytest.mark.parametrize("missing", ["floor", "preview", "planes"])
def test_a_sheet_of_what_is_not_measured(plain: Made, missing: str) -> None:
    audit, measurements = plain
    frame = audit.frames[0]
    bare = replace(
        frame.channels[0], noise_floor_dn=None, dynamic_range_stops=None, headroom_stops=None,
        shadow_room_stops=None, histogram=StopHistogram(0.0, 0.125, ()),
    )  # fmt: skip
    odd = {
        "floor": replace(frame, channels=(bare, *frame.channels[1:])),
        "preview": replace(frame, preview=None, captured_at=None, size=None),
        "planes": replace(frame, channels=(bare,) * 4),
    }[missing]
    canvas, bottom = draw_frame_sheet(odd, measurements.measurement(frame.id), KINDS)
    assert overlaps(canvas) == []
    assert "–" in {box.text for box in canvas.boxes}
    assert 500 < bottom < canvas.picture.height


def test_a_note_of_several_planes_is_written_once(plain: Made) -> None:
    audit, measurements = plain
    frame = audit.frames[0]
    notes = (("one for all",), ("one for all",), ("one for all", "its own"), ("one for all",))
    channels = (replace(c, notes=n) for c, n in zip(frame.channels, notes, strict=True))
    noted = replace(frame, channels=tuple(channels))
    canvas, _bottom = draw_frame_sheet(noted, measurements.measurement(frame.id), KINDS)
    told = [box.text for box in canvas.boxes if "one for all" in box.text or "its own" in box.text]
    assert told == ["R, G, B: one for all", "G2: its own"]


def test_a_white_level_that_no_file_claims_is_no_zero(plain: Made) -> None:
    audit, measurements = plain
    frame = audit.frames[0]
    bare = replace(frame, channels=tuple(replace(c, white_tag_dn=0.0) for c in frame.channels))
    canvas, _bottom = draw_frame_sheet(bare, measurements.measurement(frame.id), KINDS)
    assert "0 DN" not in {box.text for box in canvas.boxes}


@pytest.mark.parametrize("planes", [1, 3])
def test_a_sheet_of_a_sensor_with_fewer_planes(plain: Made, planes: int) -> None:
    audit, measurements = plain
    frame = audit.frames[21]
    whole = measurements.measurement(frame.id)
    maps = replace(
        whole.mosaic.maps,
        **{n: getattr(whole.mosaic.maps, n)[:planes] for n in ("mean_dn", "max_dn", "over_share")},
    )
    mosaic = replace(whole.mosaic, planes=whole.mosaic.planes[:planes], maps=maps)
    names = ("L",) if planes == 1 else ("R", "G", "B")
    channels = [replace(c, name=PlaneName(n)) for c, n in zip(frame.channels, names, strict=False)]
    fewer = replace(frame, channels=tuple(channels))
    canvas, _bottom = draw_frame_sheet(fewer, replace(whole, mosaic=mosaic), KINDS)
    assert overlaps(canvas) == []
    assert set(names) <= {box.text for box in canvas.boxes}


def test_the_line_where_the_sky_ends_is_drawn_on_the_sheet(plain: Made) -> None:
    audit, measurements = plain
    frame = audit.frames[21]
    measured = measurements.measurement(frame.id)
    sky = SkyBalance(frame.id, horizon_ends=(0.2, 0.6))
    without, _ = draw_frame_sheet(frame, measured, KINDS)
    canvas, _ = draw_frame_sheet(frame, measured, KINDS, sky)
    with_it, bare = (" ".join(box.text for box in one.boxes) for one in (canvas, without))
    assert "The line: where the sky ends." in with_it
    assert "The line" not in bare
    grey = np.full((100, 150, 3), 128, np.uint8)
    drawn = with_line(grey, (0.2, 0.6))
    for row, col in ((20, 1), (40, 75), (60, 148)):
        assert INK in map(tuple, drawn[row - 2 : row + 3, col].tolist())
    assert (drawn[:10] == grey[:10]).all()


def test_a_sheet_is_a_png_that_says_whose_it_is(plain: Made) -> None:
    audit, measurements = plain
    frame = audit.frames[21]
    content = build_frame_sheet(frame, measurements.measurement(frame.id), KINDS)
    picture = Image.open(io.BytesIO(content))
    assert picture.format == "PNG"
    assert picture.width == A4_WIDTH
    assert picture.info["dpi"] == pytest.approx((200, 200), abs=0.1)
    assert picture.info["Software"] == SOFTWARE


def test_every_figure_of_a_channel_is_told_with_its_source(plain: Made) -> None:
    audit, measurements = plain
    frame = audit.frames[21]
    canvas, _bottom = draw_frame_sheet(frame, measurements.measurement(frame.id), KINDS)
    texts = {box.text for box in canvas.boxes}
    assert {"15870 DN", "15866 DN", "16383 DN", "512.0 DN", "2.40 DN", "2.6 DN"} <= texts
    whole = " ".join(box.text for box in canvas.boxes)
    for told in (
        "Saturation: seen in this frame.",
        "Saturation as claimed: from metadata.",
        "Black: from the masked border.",
        frame.findings[0].text,
    ):
        assert told in whole
    assert any(text.startswith("Caution: ") for text in texts)


PRINTED_SHARE = 0.95
"""What printers leave of a sheet that is fitted into their margins (common practice: 5 mm)."""


def points_on_a4(canvas: Canvas, bottom: int) -> float:
    """Size of the smallest text where the picture is fitted into the margins of a sheet of A4."""
    pixels = min(box.size for box in canvas.boxes)
    # A4 is 210 mm by 297 mm (ISO 216); a point is 1/72 of an inch of 25.4 mm.
    per_pixel_mm = PRINTED_SHARE * min(210 / canvas.picture.width, 297 / bottom)
    return pixels * per_pixel_mm * 72 / 25.4


def test_every_text_can_be_read_on_a_sheet_of_a4(plain: Made) -> None:
    audit, measurements = plain
    for page in planned_pages(audit):
        canvas = draw_contact_page(page, thumbs_of(audit, measurements, page))
        assert points_on_a4(canvas, canvas.picture.height) >= 6.0
    for frame in flagged(audit):
        canvas, bottom = draw_frame_sheet(frame, measurements.measurement(frame.id), KINDS)
        assert points_on_a4(canvas, bottom) >= 6.0


def test_greens_are_one_column_unless_they_differ(plain: Made) -> None:
    audit, measurements = plain
    frame = audit.frames[21]
    texts = {
        box.text
        for box in draw_frame_sheet(frame, measurements.measurement(frame.id), KINDS)[0].boxes
    }
    assert {"R", "G", "B"} <= texts
    assert not {"G1", "G2"} & texts
    other = replace(frame.channels[2], median_stops=(frame.channels[2].median_stops or 0) + 0.5)
    apart = replace(frame, channels=(*frame.channels[:2], other, frame.channels[3]))
    canvas, _bottom = draw_frame_sheet(apart, measurements.measurement(frame.id), KINDS)
    assert {"R", "G1", "G2", "B"} <= {box.text for box in canvas.boxes}


def test_each_set_up_stands_under_its_own_heading(plain: Made) -> None:
    audit, _gallery = plain
    headed: dict[str, list[str]] = {}
    for page in planned_pages(audit):
        for row in page.rows:
            assert len(row.frames) <= COLUMNS
            assert sum(heading.columns for heading in row.headings) == len(row.frames)
            for heading in row.headings:
                frames = row.frames[heading.column : heading.column + heading.columns]
                headed.setdefault(heading.title, []).extend(frame.id for frame in frames)
    for number, setup in enumerate(audit.setups, 1):
        assert sorted(headed.pop(f"Set-up {number}")) == sorted(setup.frames)
    assert set(headed) <= {"No set-up", "Not read"}


def test_the_contact_sheet_draws_what_is_lost(plain: Made) -> None:
    audit, measurements = plain
    (page, *_) = planned_pages(audit)
    thumbs = thumbs_of(audit, measurements, page)
    assert any(thumb.lost.areas.any() for thumb in thumbs.values())
    bare = {name: replace(thumb, lost=lost_maps(blocked=some())) for name, thumb in thumbs.items()}
    with_hatch = inks(np.asarray(draw_contact_page(page, thumbs).picture)).sum()
    assert with_hatch > inks(np.asarray(draw_contact_page(page, bare).picture)).sum() + 1000


def test_pages_hold_every_frame_once() -> None:
    audit, _gallery = make_audit(COLUMNS * ROWS + 3)
    pages = list(planned_pages(audit))
    assert [page.name for page in pages] == ["contact-sheet.png", "contact-sheet-2.png"]
    shown = [frame.id for page in pages for frame in page.frames]
    assert sorted(shown) == sorted(frame.id for frame in audit.frames)
    made = [draw_contact_page(page, {}).to_png() for page in pages]
    assert all(Image.open(io.BytesIO(content)).format == "PNG" for content in made)


def test_a_contact_sheet_of_nothing(plain: Made) -> None:
    (page,) = planned_pages(replace(plain[0], frames=()))
    assert page.name == "contact-sheet.png"
    assert draw_contact_page(page, {}).picture.width > 1000


def test_a_frame_whose_pictures_are_gone_leaves_an_empty_place(plain: Made) -> None:
    audit, _gallery = plain
    (page, *_) = planned_pages(audit)
    canvas = draw_contact_page(page, {})
    name = audit.frames[0].file.split("/")[-1]
    assert sum(box.text.endswith(name) for box in canvas.boxes) == 1


@pytest.mark.parametrize("text", [*POISON, "", " ", "a" * 10_000, "a b " * 5000], ids=range(17))
@pytest.mark.parametrize("width", [0, 8, 60, 400])
def test_text_stays_in_its_width(text: str, width: int) -> None:
    canvas = Canvas(500, 240)
    assert canvas.text(20, 20, width, text) <= width
    below = canvas.paragraph(20, 60, width, text, most_lines=3)
    assert below <= 60 + 3 * line_height(BODY)
    assert all(box.right <= 20 + width for box in canvas.boxes)
    inked = np.asarray(canvas.picture) != np.array(PAPER)
    assert not inked[:, :20].any()
    assert not inked[:, 20 + width :].any()


def test_only_what_does_not_fit_is_shortened() -> None:
    assert fitted("S0001.dng", 400, 13) == "S0001.dng"
    assert fitted("W" * 400, 100, 13).endswith(ELLIPSIS)
    assert fitted_to_end("S0001.dng", 400, 13) == "S0001.dng"
    far = fitted_to_end("a-very-long-folder … S0001.dng", 120, 13)
    assert far.startswith(ELLIPSIS)
    assert far.endswith("S0001.dng")
    assert wrapped("one two three", 1000, 13, 4) == ["one two three"]
    lines = wrapped("word " * 100, 200, 13, 3)
    assert len(lines) == 3
    assert lines[-1].endswith(ELLIPSIS)
    assert wrapped("word " * 12, 200, 13, 9)[-1].endswith("word")


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Brücke Ωмґ ½ ′", "Brücke Ωмґ ½ ′"),
        ("漢.dng", r"\u6f22.dng"),
        ("a\U0001f4f7", r"a\U0001f4f7"),
    ],
)
def test_what_the_font_cannot_draw_is_written_out(text: str, shown: str) -> None:
    canvas = Canvas(400, 90)
    canvas.text(0, 0, 400, text, bold=True)
    canvas.paragraph(0, 40, 400, text)
    assert [box.text for box in canvas.boxes] == [shown, shown]


def test_formulas_are_not_typeset() -> None:
    canvas = Canvas(400, 60)
    canvas.text(0, 0, 400, r"$\frac{1}{0}$ \unknown{")
    assert canvas.boxes[0].text == r"$\frac{1}{0}$ \unknown{"


def lost_maps(
    areas: Bool | None = None, specks: Bool | None = None, blocked: Bool | None = None
) -> LostMaps:
    """Maps of 6 by 9 tiles, empty where none is given; blocked unknown."""
    nothing = np.zeros((6, 9), bool)
    return LostMaps(
        nothing if areas is None else areas, nothing if specks is None else specks, blocked
    )


def some(*where: tuple[slice | int, slice | int]) -> Bool:
    tiles = np.zeros((6, 9), bool)
    for place in where:
        tiles[place] = True
    return tiles


def inks(picture: U8) -> Bool:
    dark: Bool = (picture == np.array(INK)).all(axis=2)
    return dark


def test_hatch_and_stipple_lie_where_tones_are_lost() -> None:
    picture = np.full((60, 90, 3), 200, np.uint8)
    blown, blocked = some((slice(0, 2), slice(0, 3))), some((slice(4, 6), slice(6, 9)))
    marked = with_losses(picture, lost_maps(blown, blocked=blocked))
    dark = inks(marked)
    assert np.array_equal(dark[:20, :30], hatch_pattern(60, 90)[:20, :30])
    assert np.array_equal(dark[40:, 60:], stipple_pattern(60, 90)[40:, 60:])
    assert not dark[24:40].any()
    assert len(np.unique(marked[30])) == 1


def test_single_specks_are_drawn_lightly_and_areas_fully() -> None:
    picture = np.full((120, 180, 3), 90, np.uint8)
    everywhere = some((slice(0, 6), slice(0, 9)))
    area = inks(with_losses(picture, lost_maps(everywhere), pale=False)).mean()
    specks = inks(with_losses(picture, lost_maps(specks=everywhere), pale=False)).mean()
    assert 0 < specks < area / 10


@pytest.mark.parametrize("kind", ["areas", "specks", "blocked"])
@pytest.mark.parametrize("size", [(18, 27), (60, 90), (240, 360)])
@pytest.mark.parametrize("ground", [0, 255])
def test_one_lost_tile_shows_on_any_ground(kind: str, size: tuple[int, int], ground: int) -> None:
    tile = {kind: some((2, 4))}
    marked = with_losses(np.full((*size, 3), ground, np.uint8), lost_maps(**tile), pale=False)
    changed = (marked != ground).any(axis=2)
    assert changed.any()
    far = np.ones(size, bool)
    tall, wide = size[0] // 6, size[1] // 9
    far[2 * tall - 3 : 3 * tall + 3, 4 * wide - 3 : 5 * wide + 3] = False
    assert not changed[far].any()


def test_an_unknown_floor_gives_no_stipple() -> None:
    picture = np.full((12, 12, 3), 90, np.uint8)
    assert not inks(with_losses(picture, lost_maps())).any()


def test_hatch_and_stipple_are_told_apart_without_colour() -> None:
    hatch, stipple = hatch_pattern(70, 70), stipple_pattern(60, 60)
    assert 0.2 < hatch.mean() < 0.4
    assert 0.05 < stipple.mean() < 0.2


def inked(canvas: Canvas, left: int, right: int) -> bool:
    region = np.asarray(canvas.picture)[10:26, left:right]
    return bool((region == np.array(INK)).all(axis=2).any())


def test_a_bar_shows_its_tones_and_its_losses() -> None:
    canvas, axis = Canvas(300, 40), StopsAxis(40, 260, 11.0)
    draw_bar(canvas, axis, ToneBar(11.0, 9.0, 3.0, 6.0, blown=0.01, blocked=None), 10, 16)
    top_edge = np.asarray(canvas.picture)[10]
    slice_ = np.flatnonzero((top_edge == np.array(EDGE)).all(axis=1))
    assert (slice_[0], slice_[-1]) == (80, 199)  # 9 and 3 of 11 stops, 20 pixels a stop
    assert inked(canvas, 139, 141)  # the median, 6 stops under saturation
    assert inked(canvas, 263, 263 + cap_length(0.01, LONGEST_CAP))
    assert not inked(canvas, 0, 38)


def test_caps_hide_no_share_and_stay_in_their_room() -> None:
    shares = [1e-9, 1e-5, 1e-4, 0.01, 0.3, 1.0]
    lengths = [cap_length(share, LONGEST_CAP) for share in shares]
    assert lengths == sorted(lengths)
    assert lengths[0] >= 3
    assert lengths[-1] == LONGEST_CAP
    assert cap_length(0.0, LONGEST_CAP) == cap_length(None, LONGEST_CAP) == 0


def test_the_axis_keeps_to_its_ends() -> None:
    axis = StopsAxis(100, 400, 12.0)
    assert (axis.x(0), axis.x(12), axis.x(20), axis.x(-3), axis.x(6)) == (400, 100, 100, 400, 250)


def test_the_wedge_is_even_to_the_eye() -> None:
    greys = wedge_greys(12)
    assert greys == sorted(greys)
    # CIE 15 and IEC 61966-2-1: L* of 10, 53.5 and 97 are 27, 128 and 246 of 255 in sRGB.
    assert wedge_greys(3) == [27, 128, 246]


def test_histogram_strips_stand_where_their_stops_are() -> None:
    counts = [0] * 100
    counts[24] = 900  # 3 stops below saturation
    strips = histogram_strips([("R", StopHistogram(0.0, 0.125, tuple(counts)))], 12.0, 630, 80)
    assert strips.shape == (80, 630, 4)
    columns = np.flatnonzero(strips[-2, :, 3])
    x = 630 * (12.0 - 3.0) / (12.0 + ABOVE_SATURATION)
    assert columns.max() == pytest.approx(x, abs=2)
    assert len(columns) == pytest.approx(630 * 0.125 / 12.6, abs=2)
    assert not strips[: int(80 * (1 - FULL_HEIGHT)), :, 3].any()
    covered = strips[..., 3].sum() / 255
    assert covered == pytest.approx(80 * FULL_HEIGHT * 630 * 0.125 / 12.6, rel=0.01)
    assert strips[-1, columns[2], :3].tolist() == list(PLANE_COLOURS["R"])


def test_strips_share_one_scale_of_square_roots() -> None:
    planes = [(name, StopHistogram(2.0, 1.0, (count,))) for name, count in [("R", 400), ("B", 100)]]
    strips = histogram_strips(planes, 12.0, 126, 50)
    assert strips.shape == (100, 126, 4)
    red, blue = strips[:50, :, 3].sum(), strips[50:, :, 3].sum()
    assert blue == pytest.approx(red / 2, rel=0.01)


@pytest.mark.parametrize("content", [None, b"", b"\xff\xd8\xff no picture", b"\x89PNG\r\n\x1a\n"])
def test_a_broken_picture_is_none(content: bytes | None) -> None:
    assert opened(content, 100, 100) is None


def test_sources_are_told_once_or_by_plane() -> None:
    assert sources(["R", "G", "B"], ["a", "a", "a"]) == "a"
    assert sources(["R", "G", "B"], ["a", "b", "a"]) == "R, B a; G b"


def _luminance(colour: Colour) -> float:
    parts = [c / 255 for c in colour]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("ground", [PAPER, CARD, TRACK])
@pytest.mark.parametrize("ink", [INK, SOFT_INK])
def test_text_stands_out_from_its_ground(ink: Colour, ground: Colour) -> None:
    # WCAG 2, success criterion 1.4.3: at least 4.5 to 1 for text.
    assert (_luminance(ground) + 0.05) / (_luminance(ink) + 0.05) >= 4.5


def test_a_slice_of_unknown_dark_end_does_not_run_down_to_the_floor() -> None:
    canvas, axis = Canvas(320, 40), StopsAxis(40, 260, 11.0)
    draw_bar(canvas, axis, ToneBar(11.0, None, 3.0), 10, 16)
    top_edge = np.asarray(canvas.picture)[10]
    slice_ = np.flatnonzero((top_edge == np.array(EDGE)).all(axis=1))
    assert (slice_[0], slice_[-1]) == (176, 199), "1.2 stops from the bright end on"
