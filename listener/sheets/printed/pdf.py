"""Pages of SVG as one PDF, drawn by typst, whose wheel brings everything it needs.

The letters are DejaVu Sans 2.37, which lies in ``fonts/`` beside this file, so a sheet looks the same on every
computer and ♭, ♯ and ♮ are there. Other alphabets come from the fonts of the computer.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from listener.sheets.extras import extra
from listener.sheets.xml_text import clean

FONTS_FOLDER: Final = Path(__file__).parent / "fonts"
#: The pages come in as data, so nothing in a drill's texts is taken for a command. No date: the same pages give the
#: same file.
_DOCUMENT: Final = b"""
#set document(title: sys.inputs.title, date: none)
#set page(width: auto, height: auto, margin: 0pt)
#for number in range(int(sys.inputs.count)) {
  page(image(bytes(sys.inputs.at(str(number))), format: "svg", alt: sys.inputs.title))
}
"""


def pages_pdf(pages: Sequence[bytes], title: str) -> bytes:
    """One PDF with a page for each SVG, in its size; :class:`listener.sheets.extras.MissingExtra` without typst."""
    typst = extra("typst", "a PDF")
    inputs = {str(number): page.decode() for number, page in enumerate(pages)}
    inputs |= {"title": clean(title), "count": str(len(pages))}
    data: bytes = typst.compile(_DOCUMENT, sys_inputs=inputs, root=FONTS_FOLDER, font_paths=[FONTS_FOLDER])
    return data
