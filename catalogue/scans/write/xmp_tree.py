"""An XMP document as a tree of XML that is read and changed without losing what others put there.

XMP is ISO 16684-1, from memory of that standard. The XML parser (`defusedxml`) is imported where a document is read.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from hashlib import sha256
from typing import Any, Literal

from catalogue.errors import InvalidInput

PRIVATE = "https://stripleaf.invalid/ns/1/"
"""The own namespace; names under .invalid are promised never to exist (RFC 2606)."""
MAX_SIDECAR_BYTES = 16_000_000
"""A larger file is refused unread."""
_MAX_DEPTH = 100
RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
XMLNS = "http://www.w3.org/2000/xmlns/"
"""The namespaces of RDF, in which XMP is written, and of declarations of namespaces."""
SPACES = {
    "rdf": RDF,
    "dc": "http://purl.org/dc/elements/1.1/",
    "xmp": "http://ns.adobe.com/xap/1.0/",
    "photoshop": "http://ns.adobe.com/photoshop/1.0/",
    "exif": "http://ns.adobe.com/exif/1.0/",
    "exifEX": "http://cipa.jp/exif/1.0/",
    "aux": "http://ns.adobe.com/exif/1.0/aux/",
    "Iptc4xmpCore": "http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/",
    "Iptc4xmpExt": "http://iptc.org/std/Iptc4xmpExt/2008-02-29/",
    "stripleaf": PRIVATE,
}
"""The namespaces that are written, by the prefix each is called here; from memory of the standards."""
EMPTY_PACKET = (
    '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>\n<x:xmpmeta xmlns:x="adobe:ns:meta/">\n'
    f' <rdf:RDF xmlns:rdf="{RDF}">\n </rdf:RDF>\n</x:xmpmeta>\n<?xpacket end="w"?>\n'
).encode()
"""A sidecar that says nothing yet."""


@dataclass(frozen=True)
class Property:
    """One property; `kind` is text, or the RDF container Alt (by language), Seq or Bag. No items: nothing is said."""

    name: str
    kind: Literal["text", "Alt", "Seq", "Bag"]
    items: tuple[str, ...]

    def digest(self, items: tuple[str, ...]) -> str:
        """The mark that remembers these items as written here."""
        return f"{self.name}={sha256(chr(0).join(map(one_spelling, items)).encode()).hexdigest()[:32]}"


def one_spelling(text: str) -> str:
    """One spelling for numbers that other programs write anew: 28/5 for 56/10, and angles to 0.0001 minutes (20 cm)."""
    if re.fullmatch(r"[0-9]{1,10}/[0-9]{1,10}", text) and int(text.split("/")[1]):
        return str(Fraction(text))
    if angle := re.fullmatch(r"([0-9]{1,3}),([0-9]{1,2}(?:\.[0-9]{1,12})?)([NSEW])", text):
        return f"{round((int(angle[1]) * 60 + float(angle[2])) * 10_000)}{angle[3]}"
    return text


def not_blank(*texts: str) -> tuple[str, ...]:
    """The texts that hold more than blanks."""
    return tuple(text for text in texts if text.strip())


def _parsed(data: bytes) -> Any:
    """The document of an XMP file; raises `InvalidInput` for what isn't one."""
    from xml.parsers.expat import ExpatError

    from defusedxml import DefusedXmlException, minidom

    leave = "The file was left as it is. Repair it in the program that wrote it, or move it away."
    if len(data) > MAX_SIDECAR_BYTES:
        raise InvalidInput(f"The sidecar has {len(data)} bytes; up to {MAX_SIDECAR_BYTES} are read. {leave}")
    try:
        document = minidom.parseString(data, forbid_dtd=True)
    except DefusedXmlException as problem:
        raise InvalidInput(f"The sidecar defines document types or entities, which XMP never does. {leave}") from problem
    except (ExpatError, ValueError, LookupError) as problem:
        raise InvalidInput(f"The sidecar is not well-formed XML ({problem}). {leave}") from problem
    level, depth = list(document.childNodes), 0
    while level:
        level, depth = [child for node in level for child in node.childNodes], depth + 1
        if depth > _MAX_DEPTH:
            raise InvalidInput(f"The sidecar is nested more than {_MAX_DEPTH} deep. {leave}")
    root = document.documentElement
    if not any(_is(node, RDF, "RDF") for node in (root, *root.childNodes)):
        raise InvalidInput(f"The sidecar is XML but holds no XMP. {leave}")
    return document


def _is(node: Any, space: str, *names: str) -> bool:
    return bool(node.nodeType == node.ELEMENT_NODE and node.namespaceURI == space and node.localName in names)


def _quoted(text: str, attribute: bool) -> str:
    """Escaped so that a reader gets the same characters back, line ends and tabs included."""
    text = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace("\r", "&#13;")
    return text.replace('"', "&quot;").replace("\n", "&#10;").replace("\t", "&#9;") if attribute else text


def _xml(node: Any) -> Iterator[str]:
    """The node as XML text. (`toxml` of Python 3.11 loses line ends within attributes.)"""
    if node.nodeType == node.ELEMENT_NODE:
        said = (f' {a.name}="{_quoted(a.value, True)}"' for a in node.attributes.values())
        yield f"<{node.tagName}{''.join(said)}"
        if node.childNodes:
            yield ">"
            for child in node.childNodes:
                yield from _xml(child)
            yield f"</{node.tagName}>"
        else:
            yield "/>"
    elif node.nodeType in (node.TEXT_NODE, node.CDATA_SECTION_NODE):
        yield _quoted(node.data, False)
    elif node.nodeType == node.COMMENT_NODE:
        yield f"<!--{node.data}-->"
    else:
        yield f"<?{node.target} {node.data}?>"


def _blank(node: Any) -> bool:
    return bool(node.nodeType == node.COMMENT_NODE or (node.nodeType == node.TEXT_NODE and not node.data.strip()))


def _container(node: Any) -> Any:
    """The Alt, Seq or Bag that is all an element holds, else None."""
    inner = [child for child in node.childNodes if not _blank(child)]
    return inner[0] if len(inner) == 1 and _is(inner[0], RDF, "Alt", "Seq", "Bag") else None


def _bare(node: Any) -> bool:
    """Whether an element has no attributes but declarations of namespaces."""
    return all(a.namespaceURI == XMLNS for a in node.attributes.values())


def _default_item(item: Any) -> bool:
    return bool(item.getAttribute("xml:lang") == "x-default")


def items_of(node: Any) -> tuple[str, ...] | None:
    """The value of a property as texts, of an Alt the default language's; None where it is built otherwise."""
    if node.nodeType == node.ATTRIBUTE_NODE:
        return not_blank(node.value)
    if not _bare(node):
        return None
    holder = _container(node)
    items = [node] if holder is None else [item for item in holder.childNodes if _is(item, RDF, "li")]
    if holder is not None and holder.localName == "Alt":
        items = [item for item in items if _default_item(item)]
    texts = [_plain(item) for item in items]
    return None if None in texts else not_blank(*(text for text in texts if text))


def _plain(element: Any) -> str | None:
    children = [child for child in element.childNodes if child.nodeType != child.COMMENT_NODE]
    if any(child.nodeType not in (child.TEXT_NODE, child.CDATA_SECTION_NODE) for child in children):
        return None
    return "".join(child.data for child in children)


def _all_named(element: Any) -> Iterator[Any]:
    """The elements and attributes of a tree, those that declare namespaces left out."""
    yield element
    for attribute in element.attributes.values():
        if attribute.namespaceURI != XMLNS:
            yield attribute
    for child in element.childNodes:
        if child.nodeType == child.ELEMENT_NODE:
            yield from _all_named(child)


class Packet:
    """An XMP document while it is merged."""

    def __init__(self, data: bytes) -> None:
        self.document = _parsed(data)
        self.changed = False
        root = self.document.documentElement
        self.rdf = next(node for node in (root, *root.childNodes) if _is(node, RDF, "RDF"))
        # Readers of XMP stumble over one namespace under two prefixes, so those in use are used.
        named = {node.namespaceURI: node.prefix for node in _all_named(root) if node.prefix}
        self.prefixes = {own: named.get(space, own) for own, space in SPACES.items()}
        self.home = self._home()

    def _blocks(self) -> list[Any]:
        return [node for node in self.rdf.childNodes if _is(node, RDF, "Description")]

    def _home(self) -> Any:
        """The block that holds what is said here: the one with the private properties, or a new one."""
        roll = self.find("stripleaf:roll")
        if roll:
            return roll[0].ownerElement if roll[0].nodeType == roll[0].ATTRIBUTE_NODE else roll[0].parentNode
        # All blocks of a packet are about the same thing, named the same way.
        about = next((b.getAttributeNS(RDF, "about") or b.getAttribute("about") for b in self._blocks()), "")
        home = self._add(self.rdf, "rdf:Description", 2)
        home.setAttributeNS(RDF, f"{self.prefixes['rdf']}:about", about)
        for own, prefix in self.prefixes.items():
            if own != "rdf":
                home.setAttributeNS(XMLNS, f"xmlns:{prefix}", SPACES[own])
        return home

    def find(self, name: str) -> list[Any]:
        """Where a property stands, as attributes or elements of any block."""
        prefix, local = name.split(":")
        found: list[Any] = []
        for block in self._blocks():
            attribute = block.getAttributeNodeNS(SPACES[prefix], local)
            found += [attribute] if attribute is not None else []
            found += [child for child in block.childNodes if _is(child, SPACES[prefix], local)]
        return found

    def _add(self, parent: Any, name: str, depth: int, first: bool = False) -> Any:
        """A new child element, with its namespace declared where the prefix means something else or nothing there."""
        own, local = name.split(":")
        prefix, space = self.prefixes[own], SPACES[own]
        element = self.document.createElementNS(space, f"{prefix}:{local}")
        closing = parent.lastChild
        if closing is None or closing.nodeType != closing.TEXT_NODE or closing.data.strip():
            closing = parent.appendChild(self.document.createTextNode("\n" + " " * (depth - 1)))
        before = parent.firstChild if first else closing
        parent.insertBefore(self.document.createTextNode("\n" + " " * depth), before)
        parent.insertBefore(element, before)
        above = parent
        while above.nodeType == above.ELEMENT_NODE and not above.hasAttribute(f"xmlns:{prefix}"):
            above = above.parentNode
        if above.nodeType != above.ELEMENT_NODE or above.getAttribute(f"xmlns:{prefix}") != space:
            element.setAttributeNS(XMLNS, f"xmlns:{prefix}", space)
        self.changed = True
        return element

    def remove(self, node: Any) -> None:
        """Takes out an attribute, or an element with the blanks before it."""
        self.changed = True
        if node.nodeType == node.ATTRIBUTE_NODE:
            node.ownerElement.removeAttributeNode(node)
            return
        space = node.previousSibling
        if space is not None and space.nodeType == space.TEXT_NODE and not space.data.strip():
            node.parentNode.removeChild(space)
        node.parentNode.removeChild(node)

    def _li(self, holder: Any, text: str, *, default: bool = False) -> None:
        item = self._add(holder, "rdf:li", 5, first=default)
        item.appendChild(self.document.createTextNode(text))
        if default:
            item.setAttribute("xml:lang", "x-default")

    def put(self, wanted: Property) -> None:
        """Makes a property say what is wanted; the caller has made sure that nothing foreign is lost."""
        there = self.find(wanted.name)
        said = items_of(there[0]) if len(there) == 1 else None
        if said is not None and [one_spelling(text) for text in said] == [one_spelling(text) for text in wanted.items]:
            return
        if wanted.kind == "Alt" and len(there) == 1 and (holder := _container_of(there[0], "Alt")) is not None:
            for item in [i for i in holder.childNodes if _is(i, RDF, "li") and _default_item(i)]:
                self.remove(item)
            for text in wanted.items:
                self._li(holder, text, default=True)
            if any(_is(i, RDF, "li") for i in holder.childNodes):  # other languages stay
                return
        for node in there:
            self.remove(node)
        if not wanted.items:
            return
        element = self._add(self.home, wanted.name, 3)
        if wanted.kind == "text":
            element.appendChild(self.document.createTextNode(wanted.items[0]))
            return
        holder = self._add(element, f"rdf:{wanted.kind}", 4)
        for text in wanted.items:
            self._li(holder, text, default=wanted.kind == "Alt")

    def join(self, name: str, add: list[str], drop: set[str]) -> bool:
        """Adds items to a list and takes some away; False where what stands there is no list."""
        there = self.find(name)
        holder = _container(there[0]) if len(there) == 1 and there[0].nodeType == there[0].ELEMENT_NODE else None
        if holder is None or items_of(there[0]) is None:
            if any(items_of(node) != () for node in there):
                return False
            self.put(Property(name, "Bag", tuple(add)))
            return True
        for item in [i for i in holder.childNodes if _is(i, RDF, "li") and _plain(i) in drop]:
            self.remove(item)
        for text in add:
            self._li(holder, text)
        if not any(_is(i, RDF, "li") for i in holder.childNodes):
            self.remove(there[0])
        return True

    def bytes(self) -> bytes:
        """The document as a file, UTF-8."""
        declared = ['<?xml version="1.0" encoding="UTF-8"?>'] if self.document.encoding or self.document.version else []
        return ("\n".join(declared + ["".join(_xml(node)) for node in self.document.childNodes]) + "\n").encode()


def _container_of(node: Any, kind: str) -> Any:
    holder = _container(node) if node.nodeType == node.ELEMENT_NODE else None
    return holder if holder is not None and holder.localName == kind else None
