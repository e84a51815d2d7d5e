"""A melody from a file: Standard MIDI File, MusicXML or compressed MusicXML, told apart by their first bytes.

The values are those of :mod:`listener.tunes.tune`, whose names can be imported from here.
"""

from __future__ import annotations

from listener.errors import SourceError
from listener.tunes.melody_midi import midi_melody
from listener.tunes.musicxml import musicxml_melody
from listener.tunes.safe_xml import unpacked
from listener.tunes.tune import Melody, MelodyNote, MelodyStep, TimedChord, over_chords

__all__ = ["Melody", "MelodyNote", "MelodyStep", "TimedChord", "over_chords", "read_melody"]


def read_melody(data: bytes, name: str, *, part: str | None = None) -> Melody:
    """The top voice of a part of a file. ``name`` is for errors; ``part`` is the part's number or (beginning of its)
    name and may be left out where only one part has notes.

    Repeats are not played again, grace notes are left out (the melody's ``remarks`` say so). Pitches sound as written
    here also where the file is for a transposing instrument. :class:`SourceError` says in one line what is wrong:
    an unreadable, hostile or truncated file, no notes, only percussion, or several parts and no choice.
    """
    if not data:
        raise SourceError(f"{name} is empty; save or copy it again")
    if data[:4] == b"MThd":
        return midi_melody(data, name, part)
    if data[:2] == b"PK":
        return musicxml_melody(unpacked(data, name), name, part)
    if data.lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n\0")[:1] == b"<":
        return musicxml_melody(data, name, part)
    raise SourceError(f"{name} cannot be read as a melody; give a MIDI file, MusicXML or compressed MusicXML (.mxl)")
