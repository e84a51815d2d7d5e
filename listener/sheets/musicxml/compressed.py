"""Compressed MusicXML (``.mxl``): a ZIP archive with the score and a container that names it (MusicXML 4.0, W3C)."""

from __future__ import annotations

import io
from typing import Final
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile, ZipInfo

from listener.sheets.xml_text import add, document, element

_MEDIA_TYPE: Final = "application/vnd.recordare.musicxml"
_SCORE: Final = "score.musicxml"


def compressed_musicxml(score: bytes) -> bytes:
    """The archive with this score; the same score gives the same bytes."""
    container = element("container")
    rootfiles = add(container, "rootfiles")
    add(rootfiles, "rootfile", full_path=_SCORE, media_type=f"{_MEDIA_TYPE}+xml")
    out = io.BytesIO()
    with ZipFile(out, "w") as archive:
        # The media type stands first and uncompressed, so that the kind of file can be told without unpacking it.
        archive.writestr(ZipInfo("mimetype"), _MEDIA_TYPE, ZIP_STORED)
        archive.writestr(ZipInfo("META-INF/container.xml"), document(container), ZIP_DEFLATED)
        archive.writestr(ZipInfo(_SCORE), score, ZIP_DEFLATED)
    return out.getvalue()
