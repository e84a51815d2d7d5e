"""Wishes and places in a player's words."""

from __future__ import annotations

from collections.abc import Iterator

from listener.drill.drill import NoteWish, Wish
from listener.drill.reading.fixed_notes import on_string
from listener.guitar.fingering import Fingering
from listener.music.naming_words import inversion_words
from listener.music.pitch import parse_degree
from listener.music.voicing import ANY
from listener.planning.shapes.voiced import Voicer


def place(fingering: Fingering) -> str:
    """Where a fingering lies, in words: ``at fret 3``, ``at frets 3 to 5``, ``on open strings``."""
    low, high = fingering.lowest_fret, fingering.highest_fret
    if not high:
        return "on open strings"
    return f"at fret {low}" if low == high else f"at frets {low} to {high}"


def degree_word(degree: str) -> str:
    """A degree as it is said: ``the root``, ``the 3rd``, ``the b7th``."""
    if degree == "1":
        return "the root"
    number, _ = parse_degree(degree)
    ending = {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th") if not 11 <= number <= 13 else "th"
    return f"the {degree}{ending}"


def _line_words(line: NoteWish, where: str) -> str:
    return f"{line.pitch if line.pitch is not None else degree_word(line.degree or '1')} {where}"


def wish_words(wish: Wish) -> str:
    """A wish as a player would say it: ``C spread, the 3rd on top, frets 0 to 5``."""
    if wish.exact is not None:
        what = f"{wish.chord} as {note_names(wish, wish.exact)}"
    elif ANY in wish.kinds:
        what = f"{wish.chord} in any voicing"
    else:
        what = f"{wish.chord} {' or '.join(wish.kinds)}"
    return ", ".join([what, *_conditions(wish)])


def note_names(wish: Wish, pitches: tuple[int, ...]) -> str:
    """MIDI notes by name, low to high, as the wish spells them: ``C3 G3 E4``."""
    if not pitches or not all(0 <= note <= 127 for note in pitches):
        return " ".join(map(str, pitches)) or "no notes"
    names = Voicer(wish).voicing(ANY, tuple(sorted(pitches))).names
    if wish.exact_strings and pitches == wish.exact:
        names = tuple(on_string(name, string) for name, string in zip(names, wish.exact_strings, strict=True))
    return " ".join(names)


def _conditions(wish: Wish) -> Iterator[str]:
    if wish.top != NoteWish():
        melody = wish.added_top and wish.top.pitch is not None
        yield f"{'the melody note ' if melody else ''}{_line_words(wish.top, 'on top')}"
    if wish.bottom != NoteWish():
        yield _line_words(wish.bottom, "at the bottom")
    if wish.inversion is not None:
        yield inversion_words(wish.inversion)
    if wish.size is not None:
        yield f"{wish.size} notes"
    if wish.without:
        yield f"without {' '.join(wish.without)}"
    if wish.strings is not None:
        yield f"strings {' '.join(map(str, wish.strings))}"
    if wish.frets is not None:
        yield f"frets {wish.frets[0]} to {wish.frets[1]}"
    if not wish.open_strings:
        yield "no open strings"
