"""Any note goes out and comes back; any bytes are read or refused, never half."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from auditor.sidecar.packet import DESCRIPTION, LABEL, RATING, BadPacket, read_packet, xml_text
from tests import foreign_sidecars as foreign

anything = st.text(st.characters(), max_size=60)
foreign_files = st.sampled_from(sorted(foreign.FOREIGN))


@given(note=anything, name=foreign_files)
def test_a_note_comes_back_as_it_went(note: str, name: str) -> None:
    after = read_packet(foreign.FOREIGN[name]).changed({DESCRIPTION: note})
    assert read_packet(after).description() == xml_text(note)
    assert foreign.foreign_parts(after) == foreign.foreign_parts(foreign.FOREIGN[name])


@given(note=anything.filter(lambda text: text == xml_text(text)))
def test_text_that_xml_can_hold_is_not_touched(note: str) -> None:
    after = read_packet(foreign.ELEMENTS).changed({DESCRIPTION: note})
    assert read_packet(after).description() == note


@given(label=anything.filter(lambda text: text.strip()), name=foreign_files)
def test_a_label_comes_back_as_it_went(label: str, name: str) -> None:
    after = read_packet(foreign.FOREIGN[name]).changed({LABEL: label})
    assert [text.strip() for text in read_packet(after).texts_of(LABEL)] == [
        xml_text(label).strip()
    ]


@given(
    name=foreign_files,
    steps=st.lists(st.tuples(st.sampled_from([RATING, LABEL]), st.sampled_from("123")), max_size=5),
)
def test_the_last_word_wins_and_stands_alone(name: str, steps: list[tuple[str, str]]) -> None:
    packet = read_packet(foreign.FOREIGN[name])
    for prop, value in steps:
        packet = read_packet(packet.changed({prop: value}))
    for prop, value in dict(steps).items():
        assert packet.texts_of(prop) == [value]


@given(name=foreign_files, cut=st.integers(0, 3000), junk=st.binary(max_size=6))
def test_damaged_bytes_are_read_whole_or_refused(name: str, cut: int, junk: bytes) -> None:
    content = foreign.FOREIGN[name]
    damaged = content[:cut] + junk + content[cut + 3 :]
    try:
        packet = read_packet(damaged)
    except BadPacket:
        return
    assert read_packet(packet.changed({RATING: "4"})).texts_of(RATING) == ["4"]
