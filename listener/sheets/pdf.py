"""Pages of SVG as one PDF, converted by cairosvg and joined by pypdf."""

from __future__ import annotations

import io
from collections.abc import Sequence

from listener.sheets.extras import extra


def pages_pdf(pages: Sequence[bytes], title: str) -> bytes:
    """One PDF with a page for each SVG; :class:`listener.sheets.extras.MissingExtra` without the libraries."""
    cairosvg, pypdf = extra("cairosvg", "a PDF"), extra("pypdf", "a PDF")
    writer = pypdf.PdfWriter()
    for page in pages:
        for drawn in pypdf.PdfReader(io.BytesIO(cairosvg.svg2pdf(bytestring=page))).pages:
            writer.add_page(drawn)
    writer.add_metadata({"/Title": title, "/Producer": "Widehand"})
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()
