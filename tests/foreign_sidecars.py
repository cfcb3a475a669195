"""Sidecars as other programs might leave them: invented namespaces beside the standard ones."""

from __future__ import annotations

import re

from lxml import etree

from auditor.sidecar.merge import MARK, MARKED_BY, REASONS, RECORDS
from auditor.sidecar.packet import DESCRIPTION, LABEL, RATING, RDF

OURS = (RATING, LABEL, DESCRIPTION, *RECORDS.values(), MARK, MARKED_BY, REASONS)

ATTRIBUTES = """\ufeff<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/" x:xmptk="Drawer 3.1">
 <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
  <rdf:Description rdf:about=""
    xmlns:xmp="http://ns.adobe.com/xap/1.0/"
    xmlns:tiff="http://ns.adobe.com/tiff/1.0/"
    xmlns:drawer="urn:invented:drawer:2"
   xmp:Rating="2"
   xmp:ModifyDate="2031-09-14T21:40:03+01:00"
   tiff:Orientation="6"
   drawer:Shelf='north "wall"'
   drawer:Curve="0,0&#10;255,255">
   <drawer:Steps>
    <rdf:Seq>
     <rdf:li drawer:Strength="+0.35" drawer:Name="sky &amp; sea"/>
     <rdf:li rdf:parseType="Resource"><drawer:Name>sand</drawer:Name></rdf:li>
    </rdf:Seq>
   </drawer:Steps>
  </rdf:Description>
 </rdf:RDF>
</x:xmpmeta>
                                                        \n\
<?xpacket end="w"?>""".encode()

ELEMENTS = b"""<?xml version="1.0" encoding="utf-8"?>\r
<?layout keep?>\r
<!-- kept by hand -->\r
<x:xmpmeta xmlns:x="adobe:ns:meta/">\r
  <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">\r
    <rdf:Description rdf:about="" xmlns:exif="http://ns.adobe.com/exif/1.0/">\r
      <exif:FNumber>110/10</exif:FNumber>\r
    </rdf:Description>\r
    <rdf:Description rdf:about="" xmlns:xmp="http://ns.adobe.com/xap/1.0/"\
 xmlns:dc="http://purl.org/dc/elements/1.1/">\r
      <xmp:Rating>0</xmp:Rating>\r
      <xmp:Label>second look</xmp:Label>\r
      <dc:description><rdf:Alt>\r
        <rdf:li xml:lang="x-default">Selmer Sands at dusk</rdf:li>\r
        <rdf:li xml:lang="de">Abend am Strand</rdf:li>\r
      </rdf:Alt></dc:description>\r
      <dc:subject><rdf:Bag><rdf:li>coast</rdf:li><rdf:li>dusk</rdf:li></rdf:Bag></dc:subject>\r
      <!-- a remark -->\r
      <k:memo xmlns:k="urn:invented:kiln"><![CDATA[1 < 2 & 3]]></k:memo>\r
    </rdf:Description>\r
  </rdf:RDF>\r
</x:xmpmeta>\r
"""

TWICE = b"""<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF
 xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#" xmlns:q="http://ns.adobe.com/xap/1.0/"
 xmlns:dc="http://purl.org/dc/elements/1.1/">
<rdf:Description rdf:about="" q:Rating="1" q:CreatorTool="Kiln"/>
<rdf:Description rdf:about=""><q:Rating>5</q:Rating><q:Nickname>ebb</q:Nickname>
<dc:description><rdf:Alt><rdf:li xml:lang="x-default">one</rdf:li></rdf:Alt></dc:description>
</rdf:Description>
<rdf:Description rdf:about="" q:Rating="3">
<dc:description><rdf:Alt><rdf:li xml:lang="x-default">two</rdf:li></rdf:Alt></dc:description>
</rdf:Description>
</rdf:RDF></x:xmpmeta>"""

BARE_UTF16 = ("\ufeff" + """<?xml version="1.0" encoding="UTF-16"?>
<r:RDF xmlns:r="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
 <r:Description r:about="" xmlns:xmp="urn:invented:not-the-usual" xmp:Grain="fein – süß 🌊"/>
</r:RDF>
<!-- end -->
""").encode("utf-16-le")  # fmt: skip

NESTED = b"""<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"
 xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:v="urn:invented:versions"
 xmlns:dc="http://purl.org/dc/elements/1.1/">
<rdf:Description rdf:about="" dc:description="plain words">
 <v:Older><rdf:Description xmp:Rating="5" xmp:Label="old"/></v:Older>
</rdf:Description>
</rdf:RDF>"""

NO_BLOCK = b"""<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"/><!-- > -->"""

LATIN = """<?xml version="1.0" encoding="ISO-8859-1"?>
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about=""
 xmlns:k="urn:invented:kiln" k:place="d\u00fcne"/></rdf:RDF>""".encode("latin-1")

FOREIGN = {
    "attributes": ATTRIBUTES,
    "elements": ELEMENTS,
    "twice": TWICE,
    "utf-16": BARE_UTF16,
    "nested": NESTED,
    "no block": NO_BLOCK,
    "latin": LATIN,
}

_PROLOG = re.compile(rb"\A.*?(?=<x:xmpmeta|<rdf:RDF|<r:RDF|<\x00r\x00:\x00R)", re.DOTALL)
_EPILOG = re.compile(rb"(?:</x:xmpmeta>|</rdf:RDF>|RDF\"?/>|#\"/>|</r:RDF>)(.*)\Z", re.DOTALL)


def foreign_parts(content: bytes) -> str:
    """Return everything in a sidecar that is not ours, in one canonical form."""
    root = etree.fromstring(content, etree.XMLParser(resolve_entities=False))
    rdf = root if root.tag == f"{{{RDF}}}RDF" else root.find(f"{{{RDF}}}RDF")
    assert rdf is not None
    for block in list(rdf):
        for name in OURS:
            block.attrib.pop(name, None)
            for child in block.findall(name):
                block.remove(child)
        if len(block) == 0 and set(block.attrib) <= {f"{{{RDF}}}about"}:
            rdf.remove(block)
    whole = root.getroottree()
    canonical: str = etree.canonicalize(whole, with_comments=True, strip_text=True)
    return canonical


def wrapping(content: bytes) -> tuple[bytes, bytes]:
    """Return what lies before and after the outermost element (not for UTF-16)."""
    before = _PROLOG.match(content)
    after = _EPILOG.search(content)
    assert before is not None
    assert after is not None
    return before[0], after[1]
