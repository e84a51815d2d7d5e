"""Chord names in letters that can be read from the far end of a guitar neck.

Our own small alphabet of five pixel rows. It is drawn either with half blocks (three terminal rows) or with two full
cells for each pixel (five terminal rows). A name with a sign that is not in the alphabet, or one that is too wide,
gets a big root with the rest in plain letters beside it.
"""

from __future__ import annotations

import re
from typing import Final

from listener.screen.rows import Row, cut, row, row_width
from listener.screen.theme import BOLD, Theme

FULL_BLOCK_ROWS: Final = 5

_LETTERS: Final = {
    "A": ".##. #..# #### #..# #..#", "B": "###. #..# ###. #..# ###.", "C": ".### #... #... #... .###",
    "D": "###. #..# #..# #..# ###.", "E": "#### #... ###. #... ####", "F": "#### #... ###. #... #...",
    "G": ".### #... #.## #..# .###", "N": "#..# ##.# #.## #..# #..#", "M": "#...# ##.## #.#.# #...# #...#",
    "♯": ".#.#. ##### .#.#. ##### .#.#.", "♭": "#.. #.. ##. #.# ##.",
    "m": "..... ####. #.#.# #.#.# #.#.#", "a": "... ##. .## #.# ###", "j": ".# .. .# .# #.", "d": "..# ..# ### #.# ###",
    "i": "# . # # #", "s": "... ### #.. ..# ###", "u": "... #.# #.# #.# ###", "g": "### #.# ### ..# ##.",
    "n": "... ##. #.# #.# #.#", "o": "... ### #.# #.# ###", "t": ".#. ### .#. .#. .##", "l": "# # # # #",
    "0": "### #.# #.# #.# ###", "1": ".# ## .# .# .#", "2": "##. ..# .#. #.. ###", "3": "### ..# .## ..# ###",
    "4": "#.# #.# ### ..# ..#", "5": "### #.. ##. ..# ##.", "6": ".## #.. ### #.# ###", "7": "### ..# .#. .#. .#.",
    "I": "# # # # #", "e": "... ### ##. #.. ###", "r": ".. ## #. #. #.",
    "h": "#.. #.. ### #.# #.#", "x": "... #.# .#. .#. #.#",
    "8": "### #.# ### #.# ###", "9": "### #.# ### ..# ##.", "/": "...# ..#. ..#. .#.. #...", "+": "... .#. ### .#. ...",
    "-": "... ... ### ... ...", "(": ".# #. #. #. .#", ")": "#. .# .# .# #.", "°": ".#. #.# .#. ... ...",
    "ø": "...# .##. #.## ##.# .##.", "Δ": "..#.. .#.#. .#.#. #...# #####", ".": ". . . . #", " ": ".. .. .. .. ..",
}  # fmt: skip
_SAME: Final = str.maketrans({"#": "♯", "b": "♭", "△": "Δ", "Ø": "ø", "º": "°", "−": "-"})
_ROOT: Final = re.compile(r"[A-G][♯♭]{0,2}")


def big_name(name: str, width: int, height: int, theme: Theme) -> list[Row]:
    """A chord name as large as the room allows, on exactly ``height`` rows."""
    rows = _largest(name, width, height, theme)
    above = max(0, height - len(rows)) // 2
    return [*([[]] * above), *rows, *([[]] * (height - above - len(rows)))]


def big_height(name: str, width: int, height: int, theme: Theme) -> int:
    """How many rows the name will really take."""
    return len(_largest(name, width, height, theme))


def _largest(name: str, width: int, height: int, theme: Theme) -> list[Row]:
    written = name.translate(_SAME)
    for drawn in (_full_blocks, _half_blocks):
        rows = drawn(written, theme)
        if rows and len(rows) <= height and row_width(rows[0]) <= width:
            return rows
    return _big_root(written, width, height, theme) or [row((cut(name, width, theme), BOLD))]


def _big_root(written: str, width: int, height: int, theme: Theme) -> list[Row] | None:
    root = _ROOT.match(written)
    rows = _half_blocks(root[0], theme) if root else None
    if root is None or rows is None or len(rows) > height:
        return None
    room = width - row_width(rows[0]) - 1
    rest = theme.words(written[root.end() :])
    if room < len(rest):
        return None
    return [*rows[:-1], [*rows[-1], *row((f" {rest}", BOLD))]]


def _pixels(written: str) -> list[str] | None:
    if not written or any(char not in _LETTERS for char in written):
        return None
    letters = [_LETTERS[char].split(" ") for char in written]
    return [".".join(letter[line] for letter in letters) for line in range(5)]


def _full_blocks(written: str, theme: Theme) -> list[Row] | None:
    pixels = _pixels(written)
    if pixels is None:
        return None
    on = "##" if theme.ascii_only else "██"
    return [row((line.replace("#", "\0").replace(".", "  ").replace("\0", on), BOLD)) for line in pixels]


def _half_blocks(written: str, theme: Theme) -> list[Row] | None:
    pixels = None if theme.ascii_only else _pixels(written)
    if pixels is None:
        return None
    pairs = {"..": " ", "#.": "▀", ".#": "▄", "##": "█"}
    upper, lower = pixels[0::2], [*pixels[1::2], "." * len(pixels[0])]
    return [
        row(("".join(pairs[a + b] for a, b in zip(above, below, strict=True)), BOLD))
        for above, below in zip(upper, lower, strict=True)
    ]
