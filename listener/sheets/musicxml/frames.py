"""Neck diagrams in MusicXML 4.0 (element ``frame``): strings, frets, fingers, barres. Frets count from the capo."""

from __future__ import annotations

from xml.etree.ElementTree import Element

from listener.guitar.fingering import Fingering, fret_window
from listener.sheets.xml_text import add


def add_frame(parent: Element, fingering: Fingering, string_count: int) -> None:
    """The diagram of a fingering, from its lowest string to its highest; a string without a note is not played."""
    first, last = fret_window(fingering.frets)
    frame = add(parent, "frame", unplayed="x")
    add(frame, "frame-strings", string_count)
    add(frame, "frame-frets", last - first + 1)
    if first > 1:
        add(frame, "first-fret", first, text=f"{first}fr")
    flat = flat_fingers(fingering)
    notes = sorted(zip(fingering.strings, fingering.frets, fingering.fingers, strict=True), reverse=True)
    for string, fret, finger in notes:
        note = add(frame, "frame-note")
        add(note, "string", string)
        add(note, "fret", fret)
        if finger > 0:
            add(note, "fingering", finger)
        pressed = flat.get((finger, fret), ())
        if string in (pressed[:1] + pressed[-1:]):
            add(note, "barre", type="start" if string == pressed[0] else "stop")


def flat_fingers(fingering: Fingering) -> dict[tuple[int, int], tuple[int, ...]]:
    """Fingers that press more than one string: (finger, fret) with the strings, lowest-sounding string first."""
    found: dict[tuple[int, int], list[int]] = {}
    for string, fret, finger in zip(fingering.strings, fingering.frets, fingering.fingers, strict=True):
        if finger > 0 and fret > 0:
            found.setdefault((finger, fret), []).append(string)
    return {place: tuple(sorted(strings, reverse=True)) for place, strings in found.items() if len(strings) > 1}
