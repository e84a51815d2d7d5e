"""Signs, styles and spelling of everything that is shown: one place for what colour and characters mean.

Nothing is said by colour alone: every grade has a word, a sign and a length of bar as well. Foreground and background
are the terminal's own, so light and dark ones both work. There are two hues, a blue for a hit and an orange for a near,
which people with the common kinds of colour blindness tell apart (after M. Okabe and K. Ito, "Color Universal Design",
2008); a miss has none: it is no alarm. Both keep a contrast of 4.5 to 1 on black and on white alike (WCAG 2.2, 1.4.3),
which none of the 16 old colours does, so terminals that only have those are shown no hue at all. Rich leaves the hues
out by itself when ``NO_COLOR`` is set.
"""

from __future__ import annotations

import os
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from rich.style import Style

from listener.judging.verdict import HIT, MISS, NEAR
from listener.music.chord import Chord
from listener.safe_text import printable

PLAIN: Final = Style()
BOLD: Final = Style(bold=True)
QUIET: Final = Style(dim=True)
#: What may still change: no bold letters.
NOT_SURE: Final = Style(bold=False, dim=True)
REVERSED: Final = Style(reverse=True)
NOW: Final = Style(bold=True, reverse=True)
TOP_NOTE: Final = Style(bold=True, underline=True)

#: The blue is in the palette of 256 colours, the orange a shade lighter than number 130 of it.
HUES: Final = {HIT: "#5f5fff", NEAR: "#b25f00"}
_GRADE_STYLES: Final = {grade: Style(color=HUES.get(grade), bold=True) for grade in (HIT, NEAR, MISS)}
#: What a terminal can show, in rich's words, when it can show our hues.
_MANY_COLOURS: Final = ("256", "truecolor")
_C_LOCALES: Final = ("C", "POSIX")
#: What Python sets LC_CTYPE to in the C locale (PEP 538).
_COERCED: Final = ("C.UTF-8", "C.utf8", "UTF-8")


@dataclass(frozen=True, slots=True)
class Signs:
    """Every character outside letters and digits that the screen uses; all are one cell wide.

    No two meanings share a sign; only the straight lines of the neck (``edge``, ``left_edge``) and of tables (``bar``)
    are one character in ASCII, where there is no other. ``pressed`` is a place on the neck whose finger is not known,
    ``missing`` one that was left out, ``top`` marks the string of the top note where there is no room for more,
    ``earlier`` and ``latest`` are strokes on the line of timing, ``strum_down`` and ``strum_up`` those of a pattern,
    ``more`` stands where a text was cut. ``keys`` are the arrow keys that do the same as a letter, by what they do;
    ASCII has no arrows.
    """

    hit: str
    near: str
    miss: str
    line: str
    cross: str
    edge: str
    left_edge: str
    nut: str
    up: str
    down: str
    same: str
    differs: str
    here: str
    rings: str
    to: str
    dot: str
    more: str
    bar: str
    pressed: str
    missing: str
    top: str
    earlier: str
    latest: str
    strum_down: str
    strum_up: str
    keys: tuple[tuple[str, str], ...]

    def grade(self, grade: str) -> str:
        """The sign of a grade: full, half full, empty."""
        return {HIT: self.hit, NEAR: self.near, MISS: self.miss}[grade]


UNICODE: Final = Signs(
    hit="●", near="◐", miss="○", line="─", cross="┼", edge="┤", left_edge="├", nut="║", up="╱", down="╲",
    same="=", differs="≠", here="▸", rings="◂", to="→", dot="·", more="…", bar="│",
    pressed="•", missing="∅", top="^", earlier="◇", latest="◆", strum_down="▾", strum_up="▴",
    keys=(("again", "←"), ("next", "→"), ("slower", "↓"), ("faster", "↑")),
)  # fmt: skip
ASCII: Final = Signs(
    hit="*", near="~", miss="_", line="-", cross="+", edge="|", left_edge="|", nut="H", up="/", down="\\",
    same="=", differs="!", here="@", rings="<", to=">", dot=".", more="&", bar="|",
    pressed="O", missing="%", top="^", earlier=":", latest="#", strum_down="d", strum_up="u", keys=(),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Theme:
    """How to draw: with ASCII only where the terminal cannot show more, mirrored necks for left-handed players, and
    hues only where they are sure to be readable."""

    ascii_only: bool = False
    left_handed: bool = False
    hues: bool = True

    @property
    def signs(self) -> Signs:
        """The signs to use."""
        return ASCII if self.ascii_only else UNICODE

    def grade(self, grade: str) -> Style:
        """How the words and signs of a grade look."""
        return _GRADE_STYLES[grade] if self.hues else BOLD

    def chord(self, chord: Chord) -> str:
        """A chord's symbol as its author wrote it, with real flats and sharps where they can be shown."""
        shown = printable(str(chord))
        return to_ascii(shown) if self.ascii_only else _DEGREE.sub(_signed, _CHORD_NOTE.sub(_signed_note, shown))

    def words(self, text: str) -> str:
        """Text about music: control characters gone, note names and degrees in the theme's spelling."""
        shown = printable(text)
        return to_ascii(shown) if self.ascii_only else with_signs(shown)

    def name(self, text: str) -> str:
        """A title, port or file as its owner wrote it, on one line; an ebb is no E double flat there."""
        shown = printable(text)
        return to_ascii(shown) if self.ascii_only else shown


def theme_for(
    encoding: str | None,
    *,
    left_handed: bool = False,
    colours: str | None = "truecolor",
    environment: Mapping[str, str] | None = None,
) -> Theme:
    """The theme for an output encoding (``sys.stdout.encoding``): ASCII unless it can show what we draw with.

    Python writes UTF-8 even where the user's locale is C, so the locale is asked as well; and the console of Linux has
    no font for music. ``colours`` is rich's ``color_system``, ``environment`` the variables (this process's own).
    """
    found = os.environ if environment is None else environment
    hues = colours in _MANY_COLOURS
    return Theme(not _can_show(encoding) or _plain_place(found), left_handed, hues)


def _can_show(encoding: str | None) -> bool:
    try:
        "♭♯─●◐◆•╲▀≠…←↑▾▴".encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def _plain_place(environment: Mapping[str, str]) -> bool:
    """Whether the locale or the terminal asks for ASCII.

    The first of LC_ALL, LC_CTYPE and LANG that is set and not empty names the locale (POSIX.1-2017, chapter 8.2). Where
    that is C, Python itself sets LC_CTYPE when it starts (PEP 538): such a value is not the user's.
    """
    locale_, ctype, lang = (environment.get(name, "") for name in ("LC_ALL", "LC_CTYPE", "LANG"))
    if lang in _C_LOCALES and ctype in _COERCED:
        ctype = ""
    return (locale_ or ctype or lang) in _C_LOCALES or environment.get("TERM") in ("linux", "dumb")


_NOTE: Final = re.compile(r"(?<![A-Za-z])([A-G])(b{1,2}|#{1,2})(?:(?![a-z])|(?=m|dim|sus|aug|add|alt|o7?\b))")
_CHORD_NOTE: Final = re.compile(r"((?:^|/)[A-G])(b{1,2}|#{1,2})")
_DEGREE: Final = re.compile(r"([b#]{1,2})(?=\d)")


def with_signs(text: str) -> str:
    """``Bb4`` with a real flat; words are left alone.

    >>> with_signs("F#m7b5/Eb: lift the Bb, the b7"), with_signs("about 5")
    ('F♯m7♭5/E♭: lift the B♭, the ♭7', 'about 5')
    """
    if "b" not in text and "#" not in text:
        return text
    return _DEGREE.sub(_signed, _NOTE.sub(_signed_note, text))


def _signed_note(match: re.Match[str]) -> str:
    return match[1] + _signed_text(match[2])


def _signed(match: re.Match[str]) -> str:
    return _signed_text(match[1])


def _signed_text(signs: str) -> str:
    return signs.replace("b", "♭").replace("#", "♯")


#: Longer spellings first, so that a half-diminished seventh keeps its meaning.
_SPELLINGS: Final = (
    ("ø7", "m7b5"), ("Ø7", "m7b5"), ("ø", "m7b5"), ("Ø", "m7b5"), ("Δ", "maj"), ("△", "maj"), ("°", "dim"),
    ("º", "dim"), ("♭", "b"), ("♯", "#"), ("𝄪", "x"), ("𝄫", "bb"), ("–", "-"), ("—", "-"), ("−", "-"), ("…", "..."),
    ("“", '"'), ("”", '"'), ("‘", "'"), ("’", "'"), ("→", ">"), ("·", "-"),
)  # fmt: skip


def to_ascii(text: str) -> str:
    """The text in plain ASCII: musical signs spelled out, accents dropped, ``?`` for what is left.

    >>> to_ascii("Cø7 B♭ café")
    'Cm7b5 Bb cafe'
    """
    if text.isascii():
        return text
    for sign, spelling in _SPELLINGS:
        text = text.replace(sign, spelling)
    letters = (char for char in unicodedata.normalize("NFKD", text) if not unicodedata.combining(char))
    return "".join(letters).encode("ascii", "replace").decode("ascii")
