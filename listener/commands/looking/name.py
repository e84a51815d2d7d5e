"""``widehand name NOTES…``: what chord and which voicing these notes are."""

from __future__ import annotations

from argparse import Namespace

from listener.commands.json_out import print_json
from listener.errors import UsageError
from listener.music.naming import name_pitches
from listener.music.note_words import parse_notes, wants_flats
from listener.music.pitch import spell


def run(notes: list[str], as_json: bool) -> int:
    """Print the readings of the notes, best first, as lines or as one JSON document; exit code 0."""
    midi = parse_notes(notes)
    if not midi:
        raise UsageError("no notes given; write names or MIDI numbers, such as: widehand name G3 E4 C5")
    found = name_pitches(midi, flats=wants_flats(notes))
    if as_json:
        print_json("name", {"pitches": list(midi), "names": [naming.as_json() for naming in found]})
        return 0
    if not found:
        sounding = " ".join(str(spell(note, flats=bool(wants_flats(notes)))) for note in midi)
        print(f"no chord name fits {sounding}, span {midi[-1] - midi[0]}; chords of three tones and more have names")
        return 0
    print(found[0].sentence)
    for naming in found[1:]:
        print(f"  also {naming.sentence}")
    return 0


def main(arguments: Namespace) -> int:
    """The command line's way in."""
    return run(arguments.notes, arguments.json)
