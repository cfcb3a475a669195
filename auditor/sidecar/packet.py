"""One XMP packet: read, change a few properties, and keep every other byte.

The model is ISO 16684-1: properties of one resource on any ``rdf:Description`` directly under
``rdf:RDF``, each spelt as an attribute or as a child element. The file is never rebuilt from a
tree. A changed value is cut in where the property stands; what is new goes into a block of its
own at the end, which declares every prefix that it uses.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from xml.parsers import expat
from xml.sax.saxutils import escape

from auditor.words import sidecars

RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
XMP = "http://ns.adobe.com/xap/1.0/"
DC = "http://purl.org/dc/elements/1.1/"
XML = "http://www.w3.org/XML/1998/namespace"
AUDITOR = "urn:exposure-auditor:sidecar:1#"
"""Our own namespace: what we wrote, who marked, and why."""

_PREFIXES = {XMP: "xmp", DC: "dc", AUDITOR: "auditor"}

RATING, LABEL, DESCRIPTION = f"{{{XMP}}}Rating", f"{{{XMP}}}Label", f"{{{DC}}}description"
_RDF_ROOT, _RDF_BLOCK, _ABOUT = f"{{{RDF}}}RDF", f"{{{RDF}}}Description", f"{{{RDF}}}about"
_ITEM, _LANG = f"{{{RDF}}}li", f"{{{XML}}}lang"
_CONTAINERS = (f"{{{RDF}}}Alt", f"{{{RDF}}}Seq", f"{{{RDF}}}Bag")

LARGEST_BYTES = 32 * 1024 * 1024
"""Larger than any sidecar that describes one picture."""

_DEEPEST = 256

NEW_PACKET = f"""<?xml version="1.0" encoding="UTF-8"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
 <rdf:RDF xmlns:rdf="{RDF}">
 </rdf:RDF>
</x:xmpmeta>
""".encode()

_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_DECLARED = re.compile(rb"\A(?:\xef\xbb\xbf)?<\?xml[^>]*?encoding\s*=\s*[\"']([\w.-]+)")
_TAG = re.compile(rb"<[^\s/>]+(?:\s+[^\s=>]+\s*=\s*(?:\"[^\"]*\"|'[^']*'))*\s*/?>")
_ATTRIBUTE = re.compile(rb"\s+([^\s=>]+)\s*=\s*(\"[^\"]*\"|'[^']*')")
_SPACE_BEFORE = re.compile(rb"\s*\Z")

Edit = tuple[int, int, bytes]
"""From, to, and what takes the place of those bytes."""


class BadPacket(Exception):
    """The bytes are no XMP that may be changed; the text says why."""


@dataclass(slots=True, kw_only=True)
class Element:
    """One element and where it lies in the UTF-8 text.

    Parameters
    ----------
    name, spelt : str
        ``{namespace}local``, and as the file spells it.
    attributes : dict
        By ``{namespace}local``.
    scope : dict
        Prefix to namespace.
    start, inner, inner_end, end : int
        Its start tag begins, ends; its end tag begins, ends. All three latter are one where it
        is written as one tag.
    text_start, text_end : int
        Its text among that of the whole file.
    """

    name: str
    spelt: str
    attributes: dict[str, str]
    scope: dict[str, str]
    start: int
    inner: int
    inner_end: int = 0
    end: int = 0
    text_start: int = 0
    text_end: int = 0
    children: list[Element] = field(default_factory=list)

    def within(self, *names: str) -> list[Element]:
        """Return the children of these names."""
        return [child for child in self.children if child.name in names]

    def everything(self) -> Iterator[Element]:
        """Yield all that lies within, in no particular depth."""
        waiting = list(self.children)
        while waiting:
            one = waiting.pop(0)
            yield one
            waiting[:0] = one.children


class Packet:
    """A packet in memory; :func:`read_packet` makes it.

    Parameters
    ----------
    content : bytes
        The whole file, as UTF-8.
    codec : str
        How the file itself is encoded.
    """

    def __init__(self, content: bytes, codec: str) -> None:
        self._content = content
        self._codec = codec
        self._pieces: list[str] = []
        root = _Tree(content, self._pieces).root
        found = [root] if root.name == _RDF_ROOT else root.within(_RDF_ROOT)
        if not found:
            raise BadPacket(sidecars.NO_XMP)
        self._rdf = found[0]
        self._blocks = self._rdf.within(_RDF_BLOCK)

    def texts_of(self, name: str) -> list[str]:
        """Return a simple property as often as it is spelt: once in a sound packet."""
        texts: list[str] = []
        for block in self._blocks:
            if name in block.attributes:
                texts.append(block.attributes[name])
            texts += [self._text(element).strip() for element in block.within(name)]
        return texts

    def text_of(self, name: str) -> str | None:
        """Return a property, whichever way it is spelt; None where it is absent."""
        return self.description() if name == DESCRIPTION else next(iter(self.texts_of(name)), None)

    def description(self) -> str | None:
        """Return ``dc:description`` in its default language, or the only one it has."""
        for block in self._blocks:
            if DESCRIPTION in block.attributes:
                return block.attributes[DESCRIPTION]
            for element in block.within(DESCRIPTION):
                items = [one for one in element.everything() if one.name == _ITEM]
                chosen = next(filter(_is_default, items), items[0] if items else element)
                return self._text(chosen)
        return None

    def changed(self, values: Mapping[str, str | None]) -> bytes:
        """Return the whole file with these properties set, or taken out where None.

        Of a property that is spelt twice one stays. ``dc:description`` is set in its default
        language; other languages stay.
        """
        edits: list[Edit] = []
        new: dict[str, str] = {}
        for name, value in values.items():
            clean = None if value is None else xml_text(value)
            change = self._set_description if name == DESCRIPTION else self._set_simple
            found = change(name, clean)
            edits += found
            # an element can take the value, and so can an attribute that of a simple property
            stands = any(
                block.within(name) or (name != DESCRIPTION and name in block.attributes)
                for block in self._blocks
            )
            if clean is not None and not stands:
                new[name] = clean
        if new:
            edits.append(self._new_block(new))
        content = bytearray(self._content)
        for start, end, text in sorted(edits, reverse=True):
            content[start:end] = text
        return content.decode("utf-8").encode(self._codec, "xmlcharrefreplace")

    def _set_simple(self, name: str, value: str | None) -> list[Edit]:
        elements = [child for block in self._blocks for child in block.within(name)]
        attributes = [span for block in self._blocks for span in self._spans(block, name)]
        edits: list[Edit] = []
        if value is not None and elements:
            edits += self._fill(elements.pop(0), _in_text(value))
        elif value is not None and attributes:
            _, start, end = attributes.pop(0)
            quote = self._content[start : start + 1]
            edits.append((start, end, quote + _in_quotes(value) + quote))
        edits += [(start, end, b"") for start, _, end in attributes]
        return edits + [self._cut(element) for element in elements]

    def _set_description(self, name: str, value: str | None) -> list[Edit]:
        elements = [child for block in self._blocks for child in block.within(name)]
        spans = [span for block in self._blocks for span in self._spans(block, name)]
        edits: list[Edit] = [(start, end, b"") for start, _, end in spans]
        if not elements:
            return edits
        first, *others = elements
        edits += [self._cut(element) for element in others]
        container = next(iter(first.within(*_CONTAINERS)), None)
        items = [] if container is None else container.within(_ITEM)
        default = next(filter(_is_default, items), None)
        if value is None:
            gone = default if default is not None and len(items) > 1 else first
            return [*edits, self._cut(gone)]
        if default is not None:
            return edits + self._fill(default, _in_text(value))
        if items and container is not None:
            return [*edits, (container.inner, container.inner, _item(value, declare=True))]
        return edits + self._fill(first, _alternatives(value, declare=True))

    def _fill(self, element: Element, text: bytes) -> list[Edit]:
        """Make ``text`` the only content; what RDF says of the old content goes."""
        told = [name for name in element.attributes if name.startswith(f"{{{RDF}}}")]
        edits = [(s, end, b"") for name in told for s, _, end in self._spans(element, name)]
        if element.inner == element.end:
            close = b">" + text + f"</{element.spelt}>".encode()
            return [*edits, (element.inner - 2, element.inner, close)]
        return [*edits, (element.inner, element.inner_end, text)]

    def _cut(self, element: Element) -> Edit:
        return (element.start - len(self._space_before(element.start)), element.end, b"")

    def _space_before(self, offset: int) -> bytes:
        found = _SPACE_BEFORE.search(self._content[max(0, offset - 400) : offset])
        return found[0] if found else b""

    def _spans(self, element: Element, name: str) -> list[tuple[int, int, int]]:
        """Return where an attribute's leading space, its quoted value, and both end."""
        tag = self._content[element.start : element.inner]
        return [
            (element.start + match.start(), element.start + match.start(2),
             element.start + match.end())
            for match in _ATTRIBUTE.finditer(tag)
            if not match[1].startswith(b"xmlns")
            and _full(match[1].decode(), element.scope, default=False) == name
        ]  # fmt: skip

    def _new_block(self, values: Mapping[str, str]) -> Edit:
        """Put what is nowhere yet behind the last block, indented as that is.

        Simple properties become attributes, the description stands within.
        """
        line = "\r\n" if b"\r\n" in self._content else "\n"
        last = self._rdf.children[-1] if self._rdf.children else None
        indent = line + "  " if last is None else self._space_before(last.start).decode()
        about = next((b.attributes[_ABOUT] for b in self._blocks if _ABOUT in b.attributes), "")
        told = [name[1:].split("}") for name in values]
        spaces = {RDF: "rdf"} | {space: _PREFIXES[space] for space, _ in told}
        lines = [f'{indent}<rdf:Description rdf:about="{_in_quotes(about).decode()}"']
        lines += [f'xmlns:{prefix}="{space}"' for space, prefix in spaces.items()]
        for (space, local), (name, value) in zip(told, values.items(), strict=True):
            if name != DESCRIPTION:
                lines.append(f'{_PREFIXES[space]}:{local}="{_in_quotes(value).decode()}"')
        head = (indent + "  " if indent else " ").join(lines)
        block = f"{head}/>".encode()
        if DESCRIPTION in values:
            text = _alternatives(values[DESCRIPTION], declare=False).decode()
            within = f"{indent} <dc:description>" if indent else "<dc:description>"
            block = f"{head}>{within}{text}</dc:description>{indent}</rdf:Description>".encode()
        if last is not None:
            return (last.end, last.end, block)
        if self._rdf.inner == self._rdf.end:
            close = b">" + block + f"</{self._rdf.spelt}>".encode()
            return (self._rdf.inner - 2, self._rdf.inner, close)
        return (self._rdf.inner, self._rdf.inner, block)

    def _text(self, element: Element) -> str:
        """Return the text of an element and what it holds, comments left out."""
        return "".join(self._pieces[element.text_start : element.text_end])


def read_packet(content: bytes) -> Packet:
    """Parse a sidecar's bytes; nothing outside them is ever fetched.

    Raises
    ------
    BadPacket
        Not well-formed, no XMP, too large, or with a document type (which may hold entities).
    """
    if len(content) > LARGEST_BYTES:
        raise BadPacket(sidecars.TOO_LARGE)
    codec = _codec(content)
    try:
        text = content.decode(codec)
        if text.encode(codec) != content:
            raise BadPacket(sidecars.ENCODING.format(codec=codec))
        return Packet(text.encode("utf-8"), codec)
    except (expat.ExpatError, ValueError, LookupError) as error:
        raise BadPacket(sidecars.NOT_XML.format(reason=error)) from error


def xml_text(text: str) -> str:
    """Return text as XML can hold it: what XML 1.0 forbids becomes U+FFFD, line ends LF."""
    return _NOT_XML.sub("\ufffd", text.replace("\r\n", "\n").replace("\r", "\n"))


class _Tree:
    """Elements with their places, and the file's text in pieces."""

    def __init__(self, content: bytes, pieces: list[str]) -> None:
        self._content, self._pieces = content, pieces
        self._open: list[Element] = []
        self._parser = parser = expat.ParserCreate("utf-8")
        parser.ordered_attributes = True
        parser.StartElementHandler, parser.EndElementHandler = self._started, self._ended
        parser.CharacterDataHandler = pieces.append
        parser.StartDoctypeDeclHandler = self._document_type
        parser.Parse(content, True)

    def _document_type(self, *_told: object) -> None:
        raise BadPacket(sidecars.DOCUMENT_TYPE)

    def _started(self, spelt: str, flat: list[str]) -> None:
        if len(self._open) >= _DEEPEST:
            raise BadPacket(sidecars.TOO_DEEP)
        pairs = dict(zip(flat[::2], flat[1::2], strict=True))
        scope = self._open[-1].scope if self._open else {"xml": XML}
        told = {k[6:]: v for k, v in pairs.items() if k == "xmlns" or k.startswith("xmlns:")}
        scope = {**scope, **told} if told else scope
        start = self._parser.CurrentByteIndex
        tag = _TAG.match(self._content, start)
        if tag is None:
            raise BadPacket(sidecars.START_TAG)
        element = Element(
            name=_full(spelt, scope, default=True),
            spelt=spelt,
            attributes={
                _full(k, scope, default=False): v
                for k, v in pairs.items()
                if k != "xmlns" and not k.startswith("xmlns:")
            },
            scope=scope,
            start=start,
            inner=tag.end(),
            text_start=len(self._pieces),
        )
        if self._open:
            self._open[-1].children.append(element)
        self._open.append(element)

    def _ended(self, _spelt: str) -> None:
        self.root = element = self._open.pop()
        element.text_end = len(self._pieces)
        if self._content[element.inner - 2 : element.inner] == b"/>":
            element.inner_end = element.end = element.inner
        else:
            element.inner_end = self._parser.CurrentByteIndex
            element.end = self._content.index(b">", element.inner_end) + 1


def _full(spelt: str, scope: Mapping[str, str], *, default: bool) -> str:
    prefix, _, local = spelt.rpartition(":")
    if not prefix:
        namespace = scope.get("", "") if default else ""
        return f"{{{namespace}}}{local}" if namespace else local
    if prefix not in scope:
        raise BadPacket(sidecars.NO_NAMESPACE.format(prefix=prefix))
    return f"{{{scope[prefix]}}}{local}"


def _codec(content: bytes) -> str:
    if content.startswith((b"\xff\xfe", b"<\x00")):
        return "utf-16-le"
    if content.startswith((b"\xfe\xff", b"\x00<")):
        return "utf-16-be"
    declared = _DECLARED.match(content)
    return declared[1].decode("ascii") if declared else "utf-8"


def _is_default(item: Element) -> bool:
    return item.attributes.get(_LANG, "").lower() == "x-default"


def _in_text(text: str) -> bytes:
    return escape(text, {"\r": "&#13;"}).encode()


def _in_quotes(text: str) -> bytes:
    kept = {"\n": "&#10;", "\r": "&#13;", "\t": "&#9;", '"': "&quot;", "'": "&apos;"}
    return escape(text, kept).encode()


def _item(text: str, *, declare: bool) -> bytes:
    space = f' xmlns:rdf="{RDF}"' if declare else ""
    return f'<rdf:li{space} xml:lang="x-default">'.encode() + _in_text(text) + b"</rdf:li>"


def _alternatives(text: str, *, declare: bool) -> bytes:
    space = f' xmlns:rdf="{RDF}"' if declare else ""
    return f"<rdf:Alt{space}>".encode() + _item(text, declare=False) + b"</rdf:Alt>"
