"""XML from strangers, read piece by piece with bounds on everything, and the zip container that MusicXML comes in.

A document type that declares anything itself is refused as a whole, which leaves no entity to expand and none to fetch;
a reference to an outer definition (as in every MusicXML file) is never followed. Nothing is written to disk, and of a
container only two members are read, each up to a limit.

Sources: Extensible Markup Language 1.0, section 4.4; MusicXML 4.0, "Compressed .MXL files" (W3C).
"""

from __future__ import annotations

import io
import zipfile
import zlib
from collections.abc import Callable
from typing import Final
from xml.etree.ElementTree import Element, TreeBuilder
from xml.parsers import expat

from listener.errors import SourceError
from listener.safe_text import echo

#: Bytes of XML, unpacked. A lead sheet has some hundred thousand.
MAX_BYTES: Final = 16 * 1024 * 1024
MAX_DEPTH: Final = 64
#: Elements inside one piece, such as a bar.
MAX_PIECE: Final = 100_000
MAX_MEMBERS: Final = 1_000

_CONTAINER: Final = "META-INF/container.xml"
_CUT_OFF: Final = frozenset(
    expat.errors.codes[text]
    for text in (
        expat.errors.XML_ERROR_NO_ELEMENTS,
        expat.errors.XML_ERROR_UNCLOSED_TOKEN,
        expat.errors.XML_ERROR_PARTIAL_CHAR,
        expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION,
    )
)

#: What is done with a piece: the element, and the attributes of the element around it.
Visit = Callable[[Element, dict[str, str]], None]


def walk(data: bytes, name: str, *, roots: frozenset[str], pieces: frozenset[str], visit: Visit) -> None:
    """Call ``visit`` for every element called as one of ``pieces`` as soon as it is complete; the rest is passed over.

    So a file takes no more memory than its largest piece. :class:`SourceError` for whatever is wrong with the file.
    """
    if len(data) > MAX_BYTES:
        raise SourceError(f"{name} holds more than {MAX_BYTES >> 20} MB; save the melody's part alone")
    walker = _Walker(name, roots, pieces, visit)
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
    parser.StartDoctypeDeclHandler = walker.doctype
    parser.StartElementHandler = walker.start
    parser.EndElementHandler = walker.end
    parser.CharacterDataHandler = walker.text
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        where = f"line {error.lineno}"
        if error.code in _CUT_OFF:
            raise SourceError(f"{name} is cut off in {where}; save or copy it again") from None
        raise SourceError(
            f"{name} is not valid XML ({where}: {expat.ErrorString(error.code)}); save it again"
        ) from None
    except (LookupError, ValueError):
        if walker.begun:
            raise
        raise SourceError(f"{name} is in an encoding that cannot be read; save it as UTF-8") from None


class _Walker:
    """Expat's events, with their bounds, gathered into pieces."""

    def __init__(self, name: str, roots: frozenset[str], pieces: frozenset[str], visit: Visit) -> None:
        self.name, self.roots, self.pieces, self.visit = name, roots, pieces, visit
        self.around: list[dict[str, str]] = []
        self.builder: TreeBuilder | None = None
        self.begun_at = self.count = 0
        self.begun = False

    def doctype(self, _name: str, _system: str | None, _public: str | None, declares: int) -> None:
        if declares:
            raise SourceError(f"{self.name} declares entities of its own; such files are refused, save it again")

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        if not self.around and tag not in self.roots:
            raise SourceError(f"{self.name}: {_root_words(tag)}")
        self.begun = True
        self.around.append(attributes)
        if len(self.around) > MAX_DEPTH:
            raise SourceError(f"{self.name} is nested deeper than {MAX_DEPTH} levels, as no sheet of music is")
        if self.builder is None and tag in self.pieces:
            self.builder, self.begun_at, self.count = TreeBuilder(), len(self.around), 0
        if self.builder is not None:
            self.count += 1
            if self.count > MAX_PIECE:
                raise SourceError(f"{self.name}: a <{tag}> in a bar of more than {MAX_PIECE} elements; is it damaged?")
            self.builder.start(tag, attributes)

    def text(self, text: str) -> None:
        if self.builder is not None:
            self.builder.data(text)

    def end(self, tag: str) -> None:
        if self.builder is not None:
            self.builder.end(tag)
            if len(self.around) == self.begun_at:
                element, self.builder = self.builder.close(), None
                self.visit(element, self.around[-2] if len(self.around) > 1 else {})
        self.around.pop()


def _root_words(tag: str) -> str:
    if tag == "score-timewise":
        return "this MusicXML goes bar by bar (score-timewise); save it part by part (score-partwise)"
    return f"this XML is not a MusicXML score (it begins with <{echo(tag)}>)"


def unpacked(data: bytes, name: str) -> bytes:
    """The score inside a compressed MusicXML file (.mxl)."""
    if len(data) > MAX_BYTES or data.count(b"PK\x01\x02") > MAX_MEMBERS:
        raise SourceError(f"{name} is too large for a score; save the melody's part alone")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return _member(archive, _score_path(_member(archive, _CONTAINER, name), name), name)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, OverflowError):
        raise SourceError(f"{name} is a damaged or cut off .mxl file; save or copy it again") from None
    except (NotImplementedError, RuntimeError):
        raise SourceError(f"{name} is packed or locked in a way that .mxl files are not; save it again") from None


def _score_path(container: bytes, name: str) -> str:
    """The first root file that the container names, refused unless it is a plain path inside."""
    found: list[str] = []
    walk(
        container,
        f"{name}, {_CONTAINER}",
        roots=frozenset({"container"}),
        pieces=frozenset({"rootfile"}),
        visit=lambda element, _: found.append(element.get("full-path", "")),
    )
    path = found[0] if found else ""
    if not path:
        raise SourceError(f"{name} does not say which of its files is the score; save it again")
    if path.startswith("/") or ":" in path or "\\" in path or ".." in path.split("/"):
        raise SourceError(f"{name} names a score outside of itself; save it again")
    return path


def _member(archive: zipfile.ZipFile, path: str, name: str) -> bytes:
    try:
        info = archive.getinfo(path)
    except KeyError:
        raise SourceError(f"{name} has no {echo(path, 80)} in it, as a compressed MusicXML file has") from None
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise NotImplementedError
    with archive.open(info) as member:
        content = member.read(MAX_BYTES + 1)
    if len(content) > MAX_BYTES:
        raise SourceError(f"{name} unpacks to more than {MAX_BYTES >> 20} MB; save it again")
    return content
