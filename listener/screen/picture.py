"""A screen as an SVG picture, for pages about the program: self-contained, the same bytes for the same screen.

Rich draws the cells; the frame around them is our own, because rich's fetches a font from the web. This one names
only the reader's own monospace font, and holds no address but the SVG namespace that the format demands (SVG 1.1,
W3C).
"""

from __future__ import annotations

import re
from io import StringIO
from typing import Final
from xml.sax.saxutils import escape

from rich.console import Console, RenderableType
from rich.terminal_theme import TerminalTheme

_FRAME: Final = """\
<svg xmlns="http://www.w3.org/2000/svg" viewBox="@view@" role="img">
<title>%s</title>
<style>
.{unique_id}-matrix {{ font-family: monospace; font-size: 21px; line-height: {line_height}px; }}
{styles}
</style>
@ground@
<!--{terminal_width} {terminal_height}-->
<g>
{backgrounds}
<g class="{unique_id}-matrix">
{matrix}
</g>
</g>
</svg>
"""

_MARGIN: Final = 10
_GROUND: Final = "#16181d"
#: Cell width over rich's font size of 20. Our font size is 21 on rows of 24.4, so that block characters meet without a
#: seam; common monospace fonts advance 0.602 of their size, which is 0.632 of 20.
_ASPECT: Final = 0.632
#: Dark ground, light ink; the hues of the screen are fixed ones and do not come from here.
_COLOURS: Final = TerminalTheme(
    (22, 24, 29),
    (222, 224, 228),
    [(22, 24, 29), (205, 92, 92), (110, 160, 90), (215, 135, 0), (0, 135, 215), (175, 95, 175), (80, 160, 170),
     (222, 224, 228)],
)  # fmt: skip


def svg_picture(renderable: RenderableType, *, width: int, height: int, title: str) -> str:
    """The renderable on a terminal of ``width`` x ``height`` cells as an SVG document."""
    console = Console(
        file=StringIO(), record=True, width=width, height=height, force_terminal=True, color_system="truecolor",
        legacy_windows=False, no_color=False, _environ={},
    )  # fmt: skip
    console.print(renderable, end="")
    # The frame is a format string for rich, so braces in the title are doubled.
    frame = _FRAME % escape(title).replace("{", "{{").replace("}", "}}")
    svg = console.export_svg(
        title=title, theme=_COLOURS, code_format=frame, unique_id="screen", font_aspect_ratio=_ASPECT
    )
    # Rich clips every row by a shape of its own, and forgets to make the last one.
    svg = re.sub(r' clip-path="url\(#screen-line-\d+\)"', "", svg)
    return _fitted(re.sub(r"[ \t]+\n", "\n", svg))


def _fitted(svg: str) -> str:
    """The picture cut to the cells with an even margin; rich leaves room for a window's title, which we do not draw."""
    size = re.search(r"<!--([\d.]+) ([\d.]+)-->\n", svg)
    if size is None:
        raise AssertionError("the size that our own frame notes is missing")
    svg = svg.replace(size[0], "", 1)
    width, height = (float(length) + 2 * _MARGIN for length in size.groups())
    box = f'x="-{_MARGIN}" y="-{_MARGIN}" width="{width:.1f}" height="{height:.1f}"'
    ground = f'<rect {box} rx="6" fill="{_GROUND}"/>'
    return svg.replace("@view@", f"-{_MARGIN} -{_MARGIN} {width:.1f} {height:.1f}", 1).replace("@ground@", ground, 1)
