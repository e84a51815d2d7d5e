"""What counts for and against a chord when somebody plays freely, in one table.

The measure is the **tone-second**: one chord tone that sounds for a second counts 1 for its chord. All numbers are
hundredths of it, whole, so that every machine adds up the same. They are our own choice, tuned on accompaniments of
which one half was never looked at (``docs/harmony.md``); the idea, templates of chords and a price for each change, is
that of A. Sheh and D. Ellis, "Chord segmentation and recognition using EM-trained hidden Markov models", ISMIR 2003.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

from listener.music.suffix import parse_suffix


@dataclass(frozen=True)
class Kind:
    """A kind of chord that can govern, named by its symbol after the root (``shared/chord_qualities.toml``).

    ``price`` is what it costs for every second: seldom ones need more than a passing tone to be believed.
    """

    name: str
    price: int

    @cached_property
    def tones(self) -> tuple[int, ...]:
        """Semitones above the root, which is the first of them."""
        return parse_suffix(self.name).intervals

    @property
    def third(self) -> int:
        """Its third, or the tone that is suspended for it."""
        return self.tones[1]

    @property
    def fifth(self) -> int:
        """Its fifth, be it altered."""
        return self.tones[2]

    @property
    def seventh(self) -> int | None:
        """Its seventh, or the sixth that stands in its place."""
        return self.tones[3] if len(self.tones) > 3 else None


KINDS: Final = (
    Kind("", 0),
    Kind("m", 20),
    Kind("7", 17),
    Kind("maj7", 70),
    Kind("m7", 45),
    Kind("sus4", 35),
    Kind("sus2", 40),
    Kind("dim", 26),
    Kind("m7b5", 60),
    Kind("aug", 40),
    Kind("6", 50),
    Kind("m6", 50),
)
#: A tone of the triad; a seventh, which is often a passing tone; a foreign tone.
TONE: Final = 100
SEVENTH: Final = 60
FOREIGN: Final = -127
#: The tone of the chord that is in the bass.
ROOT_BASS: Final = 70
THIRD_BASS: Final = 26
FIFTH_BASS: Final = 23
SEVENTH_BASS: Final = 50
#: Where the lowest note lies more than so many semitones above where it lay lately, the bass rests or somebody else
#: plays it, and the lowest voice counts for so much of a bass, in hundredths. "Lately" is a mean that forgets after so
#: many strokes.
BASS_REACH: Final = 5
HIGH_BASS: Final = 30
BASS_MEMORY: Final = 10
#: No chord at all, for every second in which something sounds: less than a chord whose tones sound, more than runs and
#: single notes count for any, once each change of chord is paid.
NOTHING: Final = 60
#: What a change of chord costs, in hundredths of a tone-second. Where many strings are struck, or a new bass, a change
#: is likelier.
CHANGE: Final = 78
ONE_STRUCK: Final = 20
TWO_STRUCK: Final = -3
MANY_STRUCK: Final = -34
OLD_BASS: Final = 22
#: Where a click runs, chords change with it: what the place adds, and how near to a beat a stroke is on it (in beats).
ON_BAR: Final = -25
ON_BEAT: Final = 0
OFF_BEAT: Final = 30
NEAR_BEAT: Final = 0.2
#: What a tone costs that is foreign to the key of what was heard before (for each nat by which it is less likely). What
#: is heard counts half after so many seconds. How sharply the likeliest scale is preferred; the least share of a tone.
OUT_OF_KEY: Final = 6.0
KEY_HALF_S: Final = 30.0
KEY_SHARP: Final = 12.0
KEY_LEAST: Final = 0.1
#: Songs come back to their chords: a chord that governed before is likelier, by this for each nat of the time that it
#: governed, over so many seconds that every chord is given. It counts half after so many seconds.
COME_BACK: Final = 10.0
GIVEN_S: Final = 2.0
BACK_HALF_S: Final = 78.0
