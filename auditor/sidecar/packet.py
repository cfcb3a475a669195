"""One XMP packet: read, change three properties, write, and keep everything else.

The model is ISO 16684-1: properties of one resource on any ``rdf:Description`` directly under
``rdf:RDF``, each spelt as an attribute or as a child element. What lies before and after the
outermost element (byte order mark, declaration, packet wrapper, padding) is kept byte for byte.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any
from xml.parsers import expat

from lxml import etree

RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
XMP = "http://ns.adobe.com/xap/1.0/"
DC = "http://purl.org/dc/elements/1.1/"
XML = "http://www.w3.org/XML/1998/namespace"

RATING, LABEL, DESCRIPTION = f"{{{XMP}}}Rating", f"{{{XMP}}}Label", f"{{{DC}}}description"
_RDF_ROOT, _RDF_BLOCK = f"{{{RDF}}}RDF", f"{{{RDF}}}Description"
_ITEM, _LANG = f"{{{RDF}}}li", f"{{{XML}}}lang"
_CONTAINERS = (f"{{{RDF}}}Alt", f"{{{RDF}}}Seq", f"{{{RDF}}}Bag")

LARGEST_BYTES = 32 * 1024 * 1024
"""Larger than any sidecar that describes one picture."""

NEW_PACKET = f"""<?xml version="1.0" encoding="UTF-8"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
 <rdf:RDF xmlns:rdf="{RDF}">
  <rdf:Description rdf:about="" xmlns:xmp="{XMP}" xmlns:dc="{DC}"/>
 </rdf:RDF>
</x:xmpmeta>
""".encode()

_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")

for _prefix, _namespace in (("xmp", XMP), ("dc", DC), ("rdf", RDF)):
    etree.register_namespace(_prefix, _namespace)


class BadPacket(Exception):
    """The bytes are no XMP that may be changed; the text says why."""


@dataclass(slots=True)
class Packet:
    """A packet in memory.

    Parameters
    ----------
    root : element
        The outermost element.
    rdf : element
        ``rdf:RDF`` within it.
    before, after : bytes
        What lies round the outermost element in the file.
    codec : str
        How the text between is encoded.
    crlf : bool
        Whether lines end in CR LF.
    """

    root: Any
    rdf: Any
    before: bytes
    after: bytes
    codec: str
    crlf: bool

    def texts_of(self, name: str) -> list[str]:
        """Return a simple property as often as it is spelt: once in a sound packet."""
        texts: list[str] = []
        for block in self._blocks():
            if name in block.attrib:
                texts.append(str(block.attrib[name]))
            texts += [_text(element).strip() for element in block.iterchildren(name)]
        return texts

    def text_of(self, name: str) -> str | None:
        """Return a simple property, whichever way it is spelt; None where it is absent."""
        return next(iter(self.texts_of(name)), None)

    def description(self) -> str | None:
        """Return ``dc:description`` in its default language, or the only one it has."""
        for block in self._blocks():
            if DESCRIPTION in block.attrib:
                return str(block.attrib[DESCRIPTION])
            for element in block.iterchildren(DESCRIPTION):
                items = list(element.iter(_ITEM))
                chosen = next(filter(_is_default, items), items[0] if items else element)
                return _text(chosen)
        return None

    def set_text(self, name: str, value: str) -> None:
        """Set a simple property where it stands, or add it; a second spelling of it goes."""
        attributes = [block for block in self._blocks() if name in block.attrib]
        elements = [child for block in self._blocks() for child in block.iterchildren(name)]
        if elements:
            _fill(elements[0], value)
        elif attributes:
            attributes.pop(0).set(name, value)
        else:
            self._first_block().set(name, value)
        for block in attributes:
            del block.attrib[name]
        for element in elements[1:]:
            _remove(element)

    def set_description(self, text: str) -> None:
        """Set ``dc:description`` in its default language; other languages stay."""
        clean = xml_text(text)
        for block in self._blocks():
            block.attrib.pop(DESCRIPTION, None)
        elements = [child for b in self._blocks() for child in b.iterchildren(DESCRIPTION)]
        for element in elements[1:]:
            _remove(element)
        element = elements[0] if elements else _append(self._first_block(), DESCRIPTION)
        container = next((child for child in element.iterchildren(*_CONTAINERS)), None)
        if container is None:
            _fill(element, None)
            container = etree.SubElement(element, _CONTAINERS[0])
        _fill(_default_item(container), clean)

    def to_bytes(self) -> bytes:
        """Return the whole file as it should be."""
        text = etree.tostring(self.root, encoding="unicode", with_tail=False)
        if self.crlf:
            text = text.replace("\n", "\r\n")
        return self.before + text.encode(self.codec, "xmlcharrefreplace") + self.after

    def _blocks(self) -> list[Any]:
        return list(self.rdf.iterchildren(_RDF_BLOCK))

    def _first_block(self) -> Any:
        blocks = self._blocks()
        if blocks:
            return blocks[0]
        block = _append(self.rdf, _RDF_BLOCK)
        block.set(f"{{{RDF}}}about", "")
        return block


def read_packet(content: bytes) -> Packet:
    """Parse a sidecar's bytes; nothing outside them is ever fetched.

    Raises
    ------
    BadPacket
        Not well-formed, no XMP, too large, or with a document type (which may hold entities).
    """
    if len(content) > LARGEST_BYTES:
        raise BadPacket("it is too large to be a sidecar")
    root = _parsed(content)
    rdf = root if root.tag == _RDF_ROOT else next(root.iterchildren(_RDF_ROOT), None)
    if rdf is None:
        raise BadPacket("it holds no XMP (no rdf:RDF)")
    start, end = _span(content)
    return Packet(
        root=root,
        rdf=rdf,
        before=content[:start],
        after=content[end:],
        codec=_codec(content, root.getroottree().docinfo.encoding),
        crlf=b"\r\n" in content and not re.search(rb"(?<!\r)\n", content),
    )


def xml_text(text: str) -> str:
    """Return text as XML can hold it: what XML 1.0 forbids becomes U+FFFD, line ends LF."""
    return _NOT_XML.sub("\ufffd", text.replace("\r\n", "\n").replace("\r", "\n"))


def _parsed(content: bytes) -> Any:
    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False, strip_cdata=False
    )
    try:
        root = etree.fromstring(content, parser)
    except (etree.XMLSyntaxError, ValueError, LookupError) as error:
        raise BadPacket(f"it is not well-formed XML ({error})") from error
    docinfo = root.getroottree().docinfo
    if docinfo.internalDTD is not None or docinfo.doctype:
        raise BadPacket("it holds a document type, which no sidecar needs")
    return root


def _span(content: bytes) -> tuple[int, int]:
    """Return where the outermost element starts and ends, in bytes."""
    parser = expat.ParserCreate()
    depth, start, end = 0, -1, len(content)

    def started(_name: str, _attributes: object) -> None:
        nonlocal depth, start
        start = parser.CurrentByteIndex if start < 0 else start
        depth += 1

    def ended(_name: str) -> None:
        nonlocal depth
        depth -= 1

    def anything_else(_data: str) -> None:
        nonlocal end
        if depth == 0 and start >= 0:
            end = min(end, parser.CurrentByteIndex)

    parser.StartElementHandler, parser.EndElementHandler = started, ended
    parser.DefaultHandler = anything_else
    try:
        parser.Parse(content, True)
    except (expat.ExpatError, ValueError, LookupError) as error:
        # the latter two: an encoding that only the other parser knows
        raise BadPacket(f"it is not well-formed XML ({error})") from error
    return start, end


def _codec(content: bytes, declared: str | None) -> str:
    if content.startswith((b"\xff\xfe", b"<\x00")):
        return "utf-16-le"
    if content.startswith((b"\xfe\xff", b"\x00<")):
        return "utf-16-be"
    return declared or "utf-8"


def _text(element: Any) -> str:
    """Return the text of an element and what it holds, comments left out."""
    return "".join(element.xpath(".//text()"))


def _is_default(item: Any) -> bool:
    return str(item.get(_LANG, "")).lower() == "x-default"


def _default_item(container: Any) -> Any:
    for item in container.iterchildren(_ITEM):
        if _is_default(item):
            return item
    item = etree.Element(_ITEM)
    item.set(_LANG, "x-default")
    container.insert(0, item)
    return item


def _fill(element: Any, text: str | None) -> None:
    """Make ``text`` the only content of an element; its tail and its language stay."""
    for child in list(element):
        element.remove(child)
    for name in [name for name in element.attrib if name.startswith(f"{{{RDF}}}")]:
        del element.attrib[name]
    element.text = text


def _append(parent: Any, tag: str) -> Any:
    """Add a child as the last one, on a line of its own where the others have one."""
    child = etree.SubElement(parent, tag)
    if len(parent) > 1:
        before = parent[-2]
        child.tail, before.tail = before.tail, parent.text
    return child


def _remove(element: Any) -> None:
    """Take an element out and leave the text behind it where it is."""
    parent, before = element.getparent(), element.getprevious()
    if before is None:
        parent.text = (parent.text or "") + (element.tail or "")
    else:
        before.tail = (before.tail or "") + (element.tail or "")
    parent.remove(element)
