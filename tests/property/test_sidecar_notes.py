"""Any note goes out and comes back; any bytes are read or refused, never half."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from auditor.sidecar.packet import LABEL, RATING, BadPacket, read_packet, xml_text
from tests import foreign_sidecars as foreign

anything = st.text(st.characters(), max_size=60)
foreign_files = st.sampled_from(sorted(foreign.FOREIGN))


@given(note=anything, name=foreign_files)
def test_a_note_comes_back_as_it_went(note: str, name: str) -> None:
    packet = read_packet(foreign.FOREIGN[name])
    packet.set_description(note)
    again = read_packet(packet.to_bytes())
    assert again.description() == xml_text(note)
    assert foreign.foreign_parts(packet.to_bytes()) == foreign.foreign_parts(foreign.FOREIGN[name])


@given(note=anything.filter(lambda text: text == xml_text(text)))
def test_text_that_xml_can_hold_is_not_touched(note: str) -> None:
    packet = read_packet(foreign.ELEMENTS)
    packet.set_description(note)
    assert read_packet(packet.to_bytes()).description() == note


@given(
    name=foreign_files,
    steps=st.lists(st.tuples(st.sampled_from([RATING, LABEL]), st.sampled_from("123")), max_size=5),
)
def test_the_last_word_wins_and_stands_alone(name: str, steps: list[tuple[str, str]]) -> None:
    packet = read_packet(foreign.FOREIGN[name])
    for prop, value in steps:
        packet.set_text(prop, value)
        packet = read_packet(packet.to_bytes())
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
    packet.set_text(RATING, "4")
    assert read_packet(packet.to_bytes()).texts_of(RATING) == ["4"]
