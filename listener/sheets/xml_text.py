"""XML built with the standard library: elements in one call, and texts that XML can hold."""

from __future__ import annotations

import re
from typing import Final
from xml.etree.ElementTree import Element, SubElement, indent, tostring

#: What XML 1.0 (W3C, production Char) cannot hold in any form.
_FORBIDDEN: Final = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def add(parent: Element, tag: str, text: object = None, /, **attributes: object) -> Element:
    """A new last child. Attribute names are written with ``_`` for ``-``; those that are None are left out."""
    found = SubElement(parent, tag, attributes_of(attributes))
    if text is not None:
        found.text = clean(str(text))
    return found


def element(tag: str, /, **attributes: object) -> Element:
    """An element without a parent; see :func:`add`."""
    return Element(tag, attributes_of(attributes))


def attributes_of(attributes: dict[str, object]) -> dict[str, str]:
    """Attributes as XML writes them: plain numbers, ``-`` in names."""
    return {
        name.rstrip("_").replace("_", "-"): f"{value:g}" if isinstance(value, float) else clean(str(value))
        for name, value in attributes.items()
        if value is not None
    }


def clean(text: str) -> str:
    """Without the characters that XML cannot hold."""
    return _FORBIDDEN.sub("", text)


def document(root: Element) -> bytes:
    """The whole document in UTF-8, indented."""
    indent(root)
    data: bytes = tostring(root, encoding="UTF-8", xml_declaration=True)
    return data + b"\n"
