"""The page: an audit in words, honest about what was not measured."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace

import pytest

from auditor.model.audit import Audit, Lesson, LightPoint, RankedBehind, SiblingPair, SunDay
from auditor.model.codes import Verdict
from auditor.model.settings import PrintSettings, Settings
from auditor.print.fit import PAPERS
from auditor.report.frame_records import FrameSheet
from auditor.report.page import build_page
from auditor.report.page_frames import print_sheet
from auditor.report.page_records import Page
from auditor.words.glossary import MEANINGS
from auditor.words.page import sun_line
from tests.builders import make_audit
from tests.built_groups import make_kinds

AS_IN_THE_AUDIT = {"id", "file", "frame", "frames", "short", "long", "without", "with_", "others",
                   "horizon"}  # fmt: skip
"""Fields that name a frame for links and marks; they are never shown."""

NEVER_SHOWN = {"losses", "inputs", "siblings", "bracket", "preview_clips_stops"}
"""Ids and paths as they are in the audit, and numbers by name."""


@pytest.fixture(scope="module")
def audit() -> Audit:
    return make_audit()[0]


@pytest.fixture(scope="module")
def page(audit: Audit) -> Page:
    return build_page(audit, make_kinds())


def test_frames_stand_in_order_of_time_and_the_timeless_last(page: Page, audit: Audit) -> None:
    clocks = [frame.taken_s for frame in page.frames]
    known = [clock for clock in clocks if clock is not None]
    assert known == sorted(known)
    assert clocks[-1] is None
    assert {frame.id for frame in page.frames} == {frame.id for frame in audit.frames}


def test_head_tells_when_how_many_and_how_the_light_went(page: Page) -> None:
    assert page.when == "14 September 2031, 18:52 to 20:03"
    assert page.summary == (
        "24 files in 2 places: 23 measured, 1 unreadable.",
        "Taken with F24 F24-000318 and F45 F45-001207.",
        "The light fell by 0.06 stop a minute at 18:52, as the sun went from 7.5° to −5.9°.",
    )
    assert page.sun_lines[0].startswith("Sunrise 07:35, sunset 19:46,")


def test_held_is_said_of_both_ends_only_where_both_were_measured(audit: Audit) -> None:
    held = next(frame for frame in audit.frames if frame.verdict == Verdict.HELD)
    open_below = replace(held, blocked_fraction=None)
    (sheet,) = build_page(replace(audit, frames=(open_below,)), {}).frames
    assert sheet.verdict_text == "Bright end held"
    (whole,) = build_page(replace(audit, frames=(held,)), {}).frames
    assert whole.verdict_text == "Held"


def test_head_tells_cards_and_copies(audit: Audit) -> None:
    first = audit.frames[0]
    files = ("card-1/DCIM/A.DNG", "card-1/DCIM/B.DNG", "card-2/DCIM/A.DNG")
    frames = [replace(first, id=file, file=file, also_at=()) for file in files]
    frames[0] = replace(frames[0], also_at=(files[2],))
    frames[2] = replace(frames[2], also_at=(files[0],))
    told = build_page(replace(audit, inputs=("shoot",), frames=tuple(frames)), {}).summary[0]
    assert told == "3 files on 2 cards, 1 of them a copy: 3 measured, none unreadable."


def test_tallies_count_every_frame_once(page: Page) -> None:
    assert sum(tally.count for tally in page.tallies) == len(page.frames)
    assert {tally.verdict for tally in page.tallies} == {frame.verdict for frame in page.frames}


def test_a_light_that_nobody_measured_is_not_told(audit: Audit) -> None:
    only = LightPoint("x", "2031-09-14T19:00:00", 9.0)
    page = build_page(replace(audit, light=(only,)), {})
    assert not any("light" in line for line in page.summary)


def test_same_names_from_two_inputs_are_told_apart(audit: Audit) -> None:
    twin = replace(audit.frames[0], id="2:" + audit.frames[0].id, input=1)
    page = build_page(replace(audit, frames=(audit.frames[0], twin)), {})
    assert [f.name for f in page.frames] == ["S0001.dng (card 1)", "S0001.dng (card 2)"]


def test_same_names_from_two_folders_are_told_apart(audit: Audit) -> None:
    first = audit.frames[0]
    twin = replace(first, id="101SELMR/S0001.dng", file="101SELMR/S0001.dng")
    page = build_page(replace(audit, frames=(first, twin)), {})
    assert {f.name for f in page.frames} == {"100SELMR/S0001.dng", "101SELMR/S0001.dng"}


def test_sentences_name_frames_shortly(audit: Audit) -> None:
    lesson = Lesson("At worst 2 % of 100SELMR/S0001.dng.", "100SELMR/S0002.dng", code="x")
    setup = replace(audit.setups[0], notes=("The clock was set before 100SELMR/S0003.dng.",))
    pair = replace(audit.siblings[0], reasons=("Told by 100SELMR/S0005.dng before it.",))
    finding = replace(audit.frames[21].findings[0], text="Darker than 100SELMR/S0004.dng.")
    frames = (*audit.frames[:21], replace(audit.frames[21], findings=(finding,)))
    told = replace(
        audit, lessons=(lesson,), setups=(setup, *audit.setups[1:]), frames=frames, siblings=(pair,)
    )
    page = build_page(told, {})
    assert (page.lessons[0].text, page.lessons[0].evidence) == (
        "At worst 2 % of S0001.dng.", "S0002.dng",
    )  # fmt: skip
    reasons = [found.reasons for setup in page.setups for found in setup.pairs]
    assert reasons == [("Told by S0005.dng before it.",)]
    assert page.setups[0].notes == ("The clock was set before S0003.dng.",)
    assert page.by_id[frames[-1].id].findings[0].text == "Darker than S0004.dng."


def test_the_unmeasured_is_a_dash_and_never_a_zero(audit: Audit) -> None:
    channel = replace(
        audit.frames[0].channels[0],
        blocked_fraction=None, noise_floor_dn=None, dynamic_range_stops=None,
        shadow_room_stops=None, headroom_stops=None,
    )  # fmt: skip
    bare = replace(audit.frames[0], channels=(channel,), blocked_fraction=None, headroom_stops=None)
    sheet = build_page(replace(audit, frames=(bare,)), {}).frames[0]
    assert (sheet.bar.floor_stops, sheet.bar.dark_stops, sheet.bar.bright_stops) == (None,) * 3
    texts = {fact.label: fact.text for fact in sheet.channels[0].facts}
    for label in ("Blocked", "Headroom", "Shadow room", "Range of the sensor", "Noise floor"):
        assert texts[label] == "–"
    assert (sheet.blocked_text, sheet.spare_text) == ("–", "–")
    assert "spare" not in sheet.verdict_line


@pytest.mark.parametrize(
    ("verdict", "blown", "blocked", "line"),
    [
        ("blown", 0.458, 0.0, "45.8 % blown"),
        ("both", 0.458, 0.021, "45.8 % blown, 2.1 % blocked"),
        ("held", 0.0002, 0.0, "Held, 0.02 % blown, could take 1.2 stops more"),
        ("dark frame", 0.0, 1.0, "Dark frame"),
    ],
)
def test_a_verdict_and_its_figures_are_said_once(
    audit: Audit, verdict: str, blown: float, blocked: float, line: str
) -> None:
    spare = 1.2 if verdict == Verdict.HELD else 0.0
    frame = replace(
        audit.frames[0], verdict=Verdict(verdict), blown_fraction=blown, blocked_fraction=blocked,
        headroom_stops=spare,
    )  # fmt: skip
    assert build_page(replace(audit, frames=(frame,)), {}).frames[0].verdict_line == line


def test_bar_runs_from_dark_end_to_bright_end(page: Page, audit: Audit) -> None:
    frame = audit.frames[0]
    bar = page.by_id[frame.id].bar
    assert bar.bright_stops == frame.headroom_stops
    assert bar.dark_stops is not None
    assert bar.dark_stops - (bar.bright_stops or 0.0) == pytest.approx(frame.tone_range_stops)


def test_less_light_promises_no_more_than_it_can(audit: Audit) -> None:
    frame = audit.frames[0]
    channels = tuple(replace(c, blown_one_stop_less=0.002) for c in frame.channels)
    sheet = build_page(replace(audit, frames=(replace(frame, channels=channels),)), {}).frames[0]
    told = {fact.label: fact.text for fact in sheet.channels[0].facts}
    assert told["Blown with a stop less"] == "≤ 0.20 %"


def test_pairs_tell_filter_placement_and_matching_shutter(page: Page) -> None:
    pair = page.setups[1].pairs[0]
    assert pair.title == "6 stops, ND64, density 1.8"
    assert pair.sentence == (
        "The filter measures 6.2 stops. S0007.dng is 1.0 stop darker than S0006.dng; "
        "3.2 s would have matched it."
    )
    facts = {fact.label: (fact.text, fact.remark) for fact in pair.facts}
    assert facts["Nearest marking"] == ("6 stops, ND64, density 1.8", "0.2 stop more than marked")
    assert facts["The light between the two"] == ("not measured", "")


def pair_facts(audit: Audit, pair: SiblingPair) -> dict[str, str]:
    page = build_page(replace(audit, siblings=(pair,)), {})
    (sheet,) = (found for setup in page.setups for found in setup.pairs)
    return {"sentence": sheet.sentence} | {fact.label: fact.text for fact in sheet.facts}


def test_the_light_of_a_pair_is_told_in_order_of_time(audit: Audit) -> None:
    pair = replace(audit.siblings[0], light_drift_stops=0.3)
    told = pair_facts(audit, pair)["The light between the two"]
    assert told == "rose by 0.3 stop from the short frame to the long one"
    still = replace(pair, light_drift_stops=-0.02)
    assert pair_facts(audit, still)["The light between the two"] == "hardly changed"
    turned = replace(pair, short=pair.long, long=pair.short)
    told = pair_facts(audit, turned)["The light between the two"]
    assert told == "fell by 0.3 stop from the long frame to the short one"


@pytest.mark.parametrize(
    ("matched_s", "off", "words", "fact"),
    [
        (31.0, 0.4, "; 30 s would have matched it.", "30 s"),
        (256.0, 0.4, "; 4 min 16 s would have matched it.", "4 min 16 s"),
        (31.0, 0.01, "; its shutter time was right.", "30 s"),
        (None, -1.8, "; no shutter time would have matched it,", "none: the light fell too fast"),
    ],
)
def test_the_matching_shutter_is_told_as_the_dial_names_it(
    audit: Audit, matched_s: float | None, off: float, words: str, fact: str
) -> None:
    pair = replace(audit.siblings[0], matched_time_s=matched_s, placement_difference_stops=off)
    told = pair_facts(audit, pair)
    assert words in told["sentence"]
    assert told["Shutter that would have matched"] == fact


def test_bracket_steps_lie_on_the_light_of_the_scene(page: Page, audit: Audit) -> None:
    bracket, sheet = audit.brackets[0], page.setups[0].brackets[0]
    evs = [audit.frame(frame).exposure.ev100 or 0.0 for frame in bracket.frames]
    offsets = [step.offset for step in sheet.steps]
    assert offsets == pytest.approx([max(evs) - ev for ev in evs])
    assert [step.frame for step in sheet.steps if step.needed] == sorted(bracket.needed)


def test_a_bracket_without_a_spare_frame_says_so(audit: Audit) -> None:
    bracket = replace(audit.brackets[0], needed=audit.brackets[0].frames, not_needed=(), blend=())
    sheet = build_page(replace(audit, brackets=(bracket,)), {}).setups[0].brackets[0]
    assert sheet.sentence.endswith("of the scene, and all of them are needed.")


def test_blown_is_defined_by_share_and_by_patch(page: Page) -> None:
    blown = next(fact.text for fact in page.definitions if fact.label == "Blown")
    assert "0.50 % of its area on, or from 0.10 % with one connected patch of 0.02 %" in blown


def test_a_print_of_unknown_range_says_so(audit: Audit) -> None:
    fit = audit.prints[0]
    paper = PrintSettings()
    assert "compress this frame's tones by 1.2 stops for it" in print_sheet(fit, paper).sentence
    assert "could not be measured" in print_sheet(replace(fit, unfit_stops=None), paper).sentence


@pytest.mark.parametrize(
    ("least", "words"),
    [
        (0.0, "and no more than small points would be paper white."),
        (0.0002, "and at least 0.02 % would be paper white."),
    ],
)
def test_the_share_of_white_in_a_print_is_told_as_the_least_and_never_as_none(
    audit: Audit, least: float, words: str
) -> None:
    fit = replace(audit.prints[0], unfit_stops=1.2, merged_white_fraction=least)
    assert print_sheet(fit, PrintSettings()).sentence.endswith(words)


def test_a_print_names_its_paper(audit: Audit) -> None:
    fit = replace(audit.prints[0], paper_range_stops=5.4)
    told = print_sheet(fit, PAPERS["matte"].settings()).sentence
    assert told.startswith("Good matte paper (black of density 1.7) holds 5.4 stops: ")
    silver = print_sheet(fit, PAPERS["silver"].settings()).sentence
    assert silver.startswith("Glossy silver gelatin paper (black of density 2.1, from memory)")
    assert "(black of density 2.0)" in print_sheet(fit, PrintSettings()).sentence
    unknown = print_sheet(fit, PrintSettings(paper_dmax=1.55)).sentence
    assert unknown.startswith("Paper (black of density 1.55) holds 5.4 stops: ")


def test_overlaps_are_told_in_whole_per_cent(audit: Audit) -> None:
    run = replace(audit.panoramas[0], overlaps=(0.361, 0.405))
    sheet = build_page(replace(audit, panoramas=(run,)), {}).panoramas[0]
    assert sheet.sentence.endswith("Neighbours overlap by 36 % or more.")


def test_frames_carry_their_sky_and_print(page: Page) -> None:
    facts = {f.label: f for f in page.by_id["100SELMR/S0013.dng"].facts}
    assert facts["Sky"].remark == "a 2-stop (0.6) grad would leave it 0.4 stop brighter"
    printed = {f.label: f for f in page.by_id["100SELMR/S0001.dng"].facts}["On paper"]
    assert printed.remark.startswith("41 × 27 cm at 360 px an inch, ")


def test_reasons_against_others_stand_with_them(audit: Audit) -> None:
    other = audit.keepers[0].rank[1]
    keeper = replace(
        audit.keepers[0],
        why=("both ends held", f"the bracket needs {other}", f"{other}: softer"),
        behind=(RankedBehind(frame=other, why="softer"),),
    )
    sheet = build_page(replace(audit, keepers=(keeper,)), {}).setups[0].keepers[0]
    short = other.rpartition("/")[2]
    assert sheet.why == ("Both ends held.", f"The bracket needs {short}."), "by its short name"
    assert [(one.frame, one.text) for one in sheet.against] == [(keeper.rank[1], "Softer.")]


def test_set_ups_of_one_frame_hold_nothing_to_compare(page: Page) -> None:
    assert [setup.number for setup in page.setups if setup.tells_something] == [1, 2, 3, 4]


def test_every_setting_is_told_with_its_meaning() -> None:
    known = {
        f"{section.name}.{entry.name}"
        for section in fields(Settings)
        for entry in fields(getattr(Settings(), section.name))
    }
    assert set(MEANINGS) == known


def test_legend_counts_frames_and_survives_unknown_codes(audit: Audit) -> None:
    page = build_page(audit, make_kinds())
    blown = next(entry for entry in page.legend if entry.code == "blown-area")
    assert blown.count == sum(
        any(f.code == "blown-area" for f in frame.findings) for frame in audit.frames
    )
    bare = build_page(audit, {})
    assert bare.legend == ()
    assert any(f.title == "blown area" for frame in bare.frames for f in frame.findings)


def test_cautions_name_eyes_tides_and_local_rules(page: Page) -> None:
    told = " ".join(page.cautions)
    for word in ("protect no eye", "tide table", "dark and may be slippery", "Local rules"):
        assert word in told


def test_a_partial_audit_says_so(audit: Audit) -> None:
    assert "stopped before its end" in build_page(replace(audit, complete=False), {}).notes[0]


def test_an_empty_audit_still_makes_a_page(audit: Audit) -> None:
    bare = Audit("1.0", "0", "2031-09-14T21:40:03+01:00", audit.settings, ("card",), ())
    page = build_page(bare, make_kinds())
    assert page.when == "No file tells when it was taken"
    assert page.summary == ("No files: 0 measured, none unreadable.",)


def test_hostile_text_never_hides_or_floods(page: Page) -> None:
    hostile = build_page(make_audit(hostile=True)[0], make_kinds())
    shown = list(texts(hostile))
    assert len(shown) > 1000
    for text in shown:
        assert len(text) < 1500
        assert all(unicodedata.category(c) not in ("Cc", "Cf", "Cs", "Zl", "Zp") for c in text)


def texts(value: object, name: str = "") -> Iterator[str]:
    """Every text of a record that is meant to be shown."""
    if isinstance(value, str):
        yield value
    elif is_dataclass(value) and not isinstance(value, type):
        hidden = NEVER_SHOWN if isinstance(value, Page) else NEVER_SHOWN | AS_IN_THE_AUDIT
        for entry in fields(value):
            if entry.name not in hidden:
                yield from texts(getattr(value, entry.name), entry.name)
    elif isinstance(value, tuple):
        for part in value:
            yield from texts(part)
    elif isinstance(value, dict):
        for part in value.values():
            assert isinstance(part, FrameSheet)
            yield from texts(part)


def test_times_of_the_sun_are_rounded_to_the_minute_and_not_cut() -> None:
    rise, set_ = "2031-09-14T06:59:48+02:00", "2031-09-14T19:30:29+02:00"
    day = SunDay("2031-09-14", 54.2, 3.6, "", 40.0, sunrise=rise, sunset=set_)
    assert sun_line(day) == "Sunrise 07:00 and sunset 19:30."
