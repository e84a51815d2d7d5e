"""Chord names and neck diagrams in MusicXML 4.0 (W3C): element ``harmony``."""

from __future__ import annotations

from xml.etree.ElementTree import Element

from listener.guitar.fingering import Fingering
from listener.music.chord import UNNAMED, Chord
from listener.music.pitch import Tone
from listener.sheets.musicxml.frames import add_frame
from listener.sheets.musicxml.harmony import harmony_of
from listener.sheets.xml_text import add

_STAFF = 1


def add_chord_name(parent: Element, chord: Chord, fingering: Fingering | None, string_count: int) -> None:
    """The chord by root, kind, degrees and bass, to be shown as we write it; with a diagram when there is a fingering.

    The kind's own text says all of the quality, so the degrees are there to be read by programs, not to be printed.
    """
    if chord.symbol == UNNAMED:
        harmony = add(parent, "harmony", placement="above", print_frame="yes" if fingering is not None else "no")
        add(add(harmony, "root"), "root-step", chord.root.letter, text="")
        add(harmony, "kind", "other", text=UNNAMED)
        if fingering is not None:
            add_frame(harmony, fingering, string_count)
        add(harmony, "staff", _STAFF)
        return
    said = harmony_of(chord.quality)
    harmony = add(parent, "harmony", placement="above", print_frame="yes" if fingering is not None else "no")
    _tone(add(harmony, "root"), "root", chord.root)
    add(harmony, "kind", said.kind, text=chord.quality.symbol)
    if chord.bass is not None:
        _tone(add(harmony, "bass"), "bass", chord.bass)
    for change in said.changes:
        degree = add(harmony, "degree", print_object="no")
        add(degree, "degree-value", change.number)
        add(degree, "degree-alter", change.alter)
        add(degree, "degree-type", change.how)
    if fingering is not None:
        add_frame(harmony, fingering, string_count)
    add(harmony, "staff", _STAFF)


def add_no_chord(parent: Element) -> None:
    """N.C.; the standard wants a root even here, and leaves it unprinted where its text is empty."""
    harmony = add(parent, "harmony", placement="above")
    add(add(harmony, "root"), "root-step", "C", text="")
    add(harmony, "kind", "none", text="N.C.")
    add(harmony, "staff", _STAFF)


def _tone(parent: Element, name: str, tone: Tone) -> None:
    add(parent, f"{name}-step", tone.letter)
    if tone.alteration:
        add(parent, f"{name}-alter", tone.alteration)
