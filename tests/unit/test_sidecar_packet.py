"""A packet changes in three properties and in nothing else."""

from __future__ import annotations

import pytest
from lxml import etree

from auditor.sidecar.packet import (
    AUDITOR,
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
    values = {RATING: "4", LABEL: "Keep", DESCRIPTION: "The tide is right."}
    return read_packet(content).changed(values)


@pytest.mark.parametrize("content", foreign.FOREIGN.values(), ids=foreign.FOREIGN)
def test_what_others_wrote_stays(content: bytes) -> None:
    assert foreign.foreign_parts(changed(content)) == foreign.foreign_parts(content)


@pytest.mark.parametrize("content", foreign.FOREIGN.values(), ids=foreign.FOREIGN)
def test_what_we_set_is_read_back_and_stands_once(content: bytes) -> None:
    packet = read_packet(changed(content))
    assert packet.texts_of(RATING) == ["4"]
    assert packet.texts_of(LABEL) == ["Keep"]
    assert packet.description() == "The tide is right."
    root = etree.fromstring(changed(content))
    assert (
        len(root.findall(f".//{{{RDF}}}RDF/{{{RDF}}}Description/{DESCRIPTION}"))
        + len(root.findall(f"{{{RDF}}}Description/{DESCRIPTION}"))
        == 1
    )


@pytest.mark.parametrize("content", foreign.FOREIGN.values(), ids=foreign.FOREIGN)
def test_reading_and_writing_alone_changes_no_byte(content: bytes) -> None:
    assert read_packet(content).changed({}) == content


@pytest.mark.parametrize("name", sorted(foreign.FOREIGN.keys() - {"no block"}))
def test_what_is_new_goes_in_at_one_place_and_every_other_byte_stays(name: str) -> None:
    content = foreign.FOREIGN[name]
    after = read_packet(content).changed({f"{{{AUDITOR}}}Mark": "keep", f"{{{AUDITOR}}}More": "1"})
    assert any(
        after.startswith(content[:cut]) and after.endswith(content[cut:])
        for cut in range(len(content))
    )


def test_a_changed_value_is_cut_in_where_it_stands() -> None:
    after = read_packet(foreign.ATTRIBUTES).changed({RATING: "5"})
    assert after == foreign.ATTRIBUTES.replace(b'xmp:Rating="2"', b'xmp:Rating="5"')
    after = read_packet(foreign.ELEMENTS).changed({LABEL: "Keep", RATING: "-1"})
    assert after == foreign.ELEMENTS.replace(b">second look<", b">Keep<").replace(
        b"<xmp:Rating>0<", b"<xmp:Rating>-1<"
    )


@pytest.mark.parametrize("content", foreign.FOREIGN.values(), ids=foreign.FOREIGN)
def test_what_is_taken_out_is_gone_and_alone(content: bytes) -> None:
    gone = read_packet(changed(content)).changed({RATING: None, LABEL: None, DESCRIPTION: None})
    packet = read_packet(gone)
    assert packet.texts_of(RATING) == packet.texts_of(LABEL) == []
    assert packet.description() != "The tide is right."
    assert foreign.foreign_parts(gone) == foreign.foreign_parts(content)


def test_other_languages_of_a_description_that_is_taken_out_stay() -> None:
    gone = read_packet(changed(foreign.ELEMENTS)).changed({DESCRIPTION: None})
    assert read_packet(gone).description() == "Abend am Strand"


@pytest.mark.parametrize(
    ("spelt", "value"),
    [
        (b"<xmp:Label/>", b"<xmp:Label>Keep</xmp:Label>"),
        (b"<xmp:Label ></xmp:Label >", b"<xmp:Label >Keep</xmp:Label >"),
        (b"<xmp:Label><![CDATA[x]]><!-- y --></xmp:Label>", b"<xmp:Label>Keep</xmp:Label>"),
        (b"<xmp:Label rdf:resource='u'/>", b"<xmp:Label>Keep</xmp:Label>"),
    ],
)
def test_an_element_is_filled_however_it_is_spelt(spelt: bytes, value: bytes) -> None:
    content = foreign.ELEMENTS.replace(b"<xmp:Label>second look</xmp:Label>", spelt)
    assert read_packet(content).changed({LABEL: "Keep"}) == content.replace(spelt, value)


def test_a_new_block_speaks_of_the_same_resource() -> None:
    content = foreign.ATTRIBUTES.replace(b'rdf:about=""', b'rdf:about="uuid:a&amp;b"')
    after = read_packet(content).changed({LABEL: "Keep"})
    assert after.count(b'rdf:about="uuid:a&amp;b"') == 2


def test_an_encoding_that_cannot_be_written_back_is_refused() -> None:
    head = b'<?xml version="1.0" encoding="utf-7"?><rdf:RDF xmlns:rdf="' + RDF.encode() + b'"/>'
    with pytest.raises(BadPacket, match="encoding"):
        read_packet(head + b"+AGEAYg-")


@pytest.mark.parametrize(("levels", "refused"), [(200, False), (300, True)])
def test_elements_nested_without_end_are_refused(levels: int, refused: bool) -> None:
    deep = b"<a>" * levels + b"</a>" * levels
    content = foreign.NO_BLOCK.replace(b"/>", b">" + deep + b"</rdf:RDF>")
    if not refused:
        assert read_packet(content).changed({}) == content
        return
    with pytest.raises(BadPacket, match="too deeply"):
        read_packet(content)


@pytest.mark.parametrize("name", ["attributes", "elements", "twice", "nested", "latin"])
def test_wrapper_declaration_and_padding_stay_byte_for_byte(name: str) -> None:
    content = foreign.FOREIGN[name]
    assert foreign.wrapping(changed(content)) == foreign.wrapping(content)


def test_attribute_stays_an_attribute_and_element_an_element() -> None:
    assert b'xmp:Rating="4"' in changed(foreign.ATTRIBUTES)
    assert b"<xmp:Rating>4</xmp:Rating>" in changed(foreign.ELEMENTS)


def test_order_of_the_properties_stays() -> None:
    def order(content: bytes) -> list[str]:
        block = etree.fromstring(content)[0][1]
        return [str(child.tag) for child in block.iterchildren("*")]

    assert order(changed(foreign.ELEMENTS)) == order(foreign.ELEMENTS)


def test_line_ends_and_cdata_stay() -> None:
    after = changed(foreign.ELEMENTS)
    assert b"<![CDATA[1 < 2 & 3]]>" in after
    assert after.count(b"\n") == after.count(b"\r\n")


def test_encoding_stays() -> None:
    assert "fein – süß 🌊" in changed(foreign.BARE_UTF16).decode("utf-16")
    after = read_packet(foreign.LATIN).changed({DESCRIPTION: "snow ❄ and düne"})
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
