"""The W3C's schema of MusicXML 4.0, as the package ``musicxml`` ships it; nothing is fetched."""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from pathlib import Path

import pytest
from lxml import etree

_XS = 'xmlns:xs="http://www.w3.org/2001/XMLSchema"'
#: The two schemas that it imports, with no more than the attributes it uses.
_IMPORTS = {
    "xml.xsd": (
        f'<xs:schema {_XS} targetNamespace="http://www.w3.org/XML/1998/namespace">'
        '<xs:attribute name="lang" type="xs:language"/><xs:attribute name="space" type="xs:NCName"/></xs:schema>'
    ),
    "xlink.xsd": (
        f'<xs:schema {_XS} targetNamespace="http://www.w3.org/1999/xlink"><xs:attribute name="href" type="xs:anyURI"/>'
        + "".join(f'<xs:attribute name="{n}" type="xs:string"/>' for n in ("type", "role", "title", "show", "actuate"))
        + "</xs:schema>"
    ),
}


class _Local(etree.Resolver):
    def resolve(self, system_url: str, public_id: str, context: object) -> object:
        text = _IMPORTS.get(system_url.rsplit("/", 1)[-1])
        return self.resolve_string(text, context) if text else None


@cache
def musicxml_schema() -> etree.XMLSchema:
    """The schema; the test is skipped, with the reason, where the package is missing."""
    spec = find_spec("musicxml")
    if spec is None or spec.origin is None:
        pytest.skip("the package musicxml, which ships the schema, is not installed")
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(_Local())
    path = Path(spec.origin).parent / "generate_classes" / "musicxml_4_0.xsd"
    return etree.XMLSchema(etree.parse(str(path), parser))


def faults(data: bytes) -> list[str]:
    """What the schema finds wrong with a score."""
    schema = musicxml_schema()
    schema.validate(etree.fromstring(data))
    return [f"line {entry.line}: {entry.message}" for entry in schema.error_log]
