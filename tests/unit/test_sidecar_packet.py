"""A packet changes in three properties and in nothing else."""

from __future__ import annotations

import pytest
from lxml import etree

from auditor.sidecar.packet import (
    DESCRIPTION,
    LABEL,
    NEW_PACKET,
    RATING,
    RDF,
    BadPacket,
    read_packet,
)
from tests import foreign_sidecars as foreign


def changed(content: bytes) -> bytes:
    packet = read_packet(content)
    packet.set_text(RATING, "4")
    packet.set_text(LABEL, "Keeper")
    packet.set_description("The tide is right.")
    return packet.to_bytes()


@pytest.mark.parametrize("content", foreign.FOREIGN.values(), ids=foreign.FOREIGN)
def test_what_others_wrote_stays(content: bytes) -> None:
    assert foreign.foreign_parts(changed(content)) == foreign.foreign_parts(content)


@pytest.mark.parametrize("content", foreign.FOREIGN.values(), ids=foreign.FOREIGN)
def test_what_we_set_is_read_back_and_stands_once(content: bytes) -> None:
    packet = read_packet(changed(content))
    assert packet.texts_of(RATING) == ["4"]
    assert packet.texts_of(LABEL) == ["Keeper"]
    assert packet.description() == "The tide is right."
    assert len(packet.rdf.findall(f"{{{RDF}}}Description/{DESCRIPTION}")) == 1


@pytest.mark.parametrize("content", foreign.FOREIGN.values(), ids=foreign.FOREIGN)
def test_reading_and_writing_alone_changes_no_meaning(content: bytes) -> None:
    again = read_packet(content).to_bytes()
    assert etree.canonicalize(etree.fromstring(again)) == etree.canonicalize(
        etree.fromstring(content)
    )


@pytest.mark.parametrize("name", ["attributes", "elements", "twice", "nested", "latin"])
def test_wrapper_declaration_and_padding_stay_byte_for_byte(name: str) -> None:
    content = foreign.FOREIGN[name]
    assert foreign.wrapping(changed(content)) == foreign.wrapping(content)


def test_attribute_stays_an_attribute_and_element_an_element() -> None:
    assert b'xmp:Rating="4"' in changed(foreign.ATTRIBUTES)
    assert b"<xmp:Rating>4</xmp:Rating>" in changed(foreign.ELEMENTS)


def test_order_of_the_properties_stays() -> None:
    def order(content: bytes) -> list[str]:
        block = read_packet(content).rdf[1]
        return [str(child.tag) for child in block.iterchildren("*")]

    assert order(changed(foreign.ELEMENTS)) == order(foreign.ELEMENTS)


def test_line_ends_and_cdata_stay() -> None:
    after = changed(foreign.ELEMENTS)
    assert b"<![CDATA[1 < 2 & 3]]>" in after
    assert after.count(b"\n") == after.count(b"\r\n")


def test_encoding_stays() -> None:
    assert "fein – süß 🌊" in changed(foreign.BARE_UTF16).decode("utf-16")
    packet = read_packet(foreign.LATIN)
    packet.set_description("snow ❄ and düne")
    after = packet.to_bytes()
    assert "düne".encode("latin-1") in after
    assert read_packet(after).description() == "snow ❄ and düne"


def test_other_languages_of_the_description_stay() -> None:
    assert "Abend am Strand" in changed(foreign.ELEMENTS).decode()
    assert "Selmer Sands at dusk" not in changed(foreign.ELEMENTS).decode()


def test_a_rating_of_something_else_inside_is_not_ours() -> None:
    packet = read_packet(foreign.NESTED)
    assert packet.text_of(RATING) is None
    assert b'<rdf:Description xmp:Rating="5" xmp:Label="old"/>' in changed(foreign.NESTED)


def test_usual_prefixes_for_new_properties() -> None:
    after = changed(NEW_PACKET).decode()
    assert 'xmp:Rating="4"' in after
    assert "<dc:description>" in after
    assert "ns0" not in after


ENTITY = b"""<?xml version="1.0"?><!DOCTYPE r [<!ENTITY e SYSTEM "file:///etc/hostname">]>
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><a>&e;</a></rdf:RDF>"""
LAUGHS = b"""<!DOCTYPE r [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;">
<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]><rdf:RDF
 xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">&c;</rdf:RDF>"""
BARE_DOCTYPE = b'<!DOCTYPE RDF><rdf:RDF xmlns:rdf="' + RDF.encode() + b'"/>'


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (b"", "well-formed"),
        (b"<x:xmpmeta", "well-formed"),
        (b"\x00" * 64, "well-formed"),
        (foreign.ATTRIBUTES[:-200], "well-formed"),
        (b"<a/>", "no XMP"),
        (ENTITY, "document type"),
        (LAUGHS, "document type"),
        (BARE_DOCTYPE, "document type"),
        (b"<a>" * 5000, "well-formed"),
        (b'<?xml version="1.0" encoding="no-such"?><a/>', "well-formed"),
    ],
)
def test_bad_packets_are_refused(content: bytes, reason: str) -> None:
    with pytest.raises(BadPacket, match=reason):
        read_packet(content)


def test_a_huge_file_is_refused_unparsed() -> None:
    with pytest.raises(BadPacket, match="too large"):
        read_packet(b" " * (32 * 1024 * 1024 + 1))
