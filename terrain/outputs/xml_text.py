"""Any text as XML: names with every oddity survive, characters that XML forbids are replaced."""

from __future__ import annotations

import re
from xml.etree import ElementTree as Xml

__all__ = ["add", "document", "xml_text"]

_FORBIDDEN = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""Everything outside the production Char of XML 1.0 (W3C 2008, fifth edition, section 2.2)."""


def xml_text(text: str) -> str:
    """Return ``text`` with the replacement character for each that XML 1.0 cannot hold."""
    return _FORBIDDEN.sub("\N{REPLACEMENT CHARACTER}", text)


def add(parent: Xml.Element, tag: str, text: str) -> Xml.Element:
    """Append an element ``tag`` that holds ``text``; markup in it is escaped when written."""
    made = Xml.SubElement(parent, tag)
    made.text = xml_text(text)
    return made


def document(root: Xml.Element) -> str:
    """Return ``root`` as a whole document, indented, with a declaration and a last newline."""
    Xml.indent(root, " ")
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + Xml.tostring(root, "unicode") + "\n"
