"""Which notes of a bar need an accidental: those that neither the key signature nor an earlier one in the bar says."""

from __future__ import annotations

from typing import Final

from listener.errors import MusicError
from listener.music.pitch import FIFTHS, Pitch
from listener.music.scale import Key, parse_key

#: Names of MusicXML 4.0 (W3C), type accidental-value, by the alteration in semitones.
NAMES: Final = {
    -3: "triple-flat",
    -2: "flat-flat",
    -1: "flat",
    0: "natural",
    1: "sharp",
    2: "double-sharp",
    3: "triple-sharp",
}
_MOST: Final = 7


def written_key(text: str) -> Key | None:
    """A key that has a signature of at most seven sharps or flats; None for anything else."""
    try:
        key = parse_key(text)
    except MusicError:
        return None
    return key if abs(key.signature) <= _MOST else None


class Accidentals:
    """The accidentals of one staff, bar by bar. They hold for their own octave, to the bar line."""

    def __init__(self, key: Key | None) -> None:
        sharps = key.signature if key is not None else 0
        changed = FIFTHS[:sharps] if sharps >= 0 else FIFTHS[sharps:]
        self._key = dict.fromkeys(changed, 1 if sharps > 0 else -1)
        self._bar: dict[tuple[str, int], int] = {}

    def bar_line(self) -> None:
        """From here on only the key signature holds."""
        self._bar.clear()

    def of(self, pitch: Pitch) -> str | None:
        """What has to stand before this note, the next one in the bar; None when it is clear without."""
        place = (pitch.letter, pitch.octave)
        if self._bar.get(place, self._key.get(pitch.letter, 0)) == pitch.alteration:
            return None
        self._bar[place] = pitch.alteration
        return NAMES.get(pitch.alteration)
