"""What a drill asks for, once its file has been read: passages of steps, each with a wish.

Beats are quarter notes in x/4 meters and eighths in x/8 ones: the unit that the meter names.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from listener.music.chord import Chord
from listener.music.pitch import Pitch

#: How strictly a step is judged, strictest first (the words of the drill file).
EXACT: Final = "exact pitches"
SAME_FINGERING: Final = "same fingering"
SAME_KIND: Final = "same kind and top"
SAME_CHORD: Final = "same chord"
STRICTNESS: Final = (EXACT, SAME_FINGERING, SAME_KIND, SAME_CHORD)


@dataclass(frozen=True)
class Line:
    """What the top or bottom note of a step shall be: a degree of the chord, or a pitch. At most one is set."""

    degree: str | None = None
    pitch: Pitch | None = None

    def allows(self, chord: Chord, midi: int) -> bool:
        """Whether this note fulfils the wish."""
        if self.pitch is not None:
            return midi == self.pitch.midi
        if self.degree is not None:
            tone = chord.root.at(self.degree)
            return midi % 12 == tone.pitch_class
        return True

    def __str__(self) -> str:
        return str(self.pitch) if self.pitch is not None else f"the {self.degree}" if self.degree else "any note"


@dataclass(frozen=True)
class Wish:
    """Everything that a step's fingering has to fulfil.

    ``kinds`` holds one or more of :data:`listener.music.voicing.KINDS`, or ``any``. ``strings`` are the strings that
    may sound, ``frets`` the lowest and highest fret that may be pressed (``open_strings`` governs fret 0).
    """

    chord: Chord
    kinds: tuple[str, ...]
    top: Line = Line()
    bottom: Line = Line()
    inversion: int | None = None
    without: tuple[str, ...] = ()
    size: int | None = None
    strings: tuple[int, ...] | None = None
    frets: tuple[int, int] | None = None
    open_strings: bool = True


@dataclass(frozen=True)
class Step:
    """One target. ``index`` counts from 0 through the whole drill; ``bar`` and ``beat`` count from 1."""

    index: int
    passage: str
    bar: int
    beat: float
    start_beats: float
    length_beats: float
    wish: Wish
    strictness: str = EXACT
    line: int = 0


@dataclass(frozen=True)
class Weights:
    """What the route search adds up, per change or per step; documented in the drill-file reference.

    ``movement`` per semitone that a voice moves, ``travel`` per millimetre the hand moves along the neck,
    ``stretch`` per millimetre of spread fingers, ``strain`` for a fingering at the hand's limit (0 to 1),
    ``open_gap`` per fret that the hand lies above open strings which sound with it (the first fret is free).
    """

    movement: float = 1.0
    travel: float = 0.02
    stretch: float = 0.02
    strain: float = 2.0
    open_gap: float = 0.25


@dataclass(frozen=True)
class Drill:
    """A whole drill. ``key`` is as written (``"G major"``), ``meter`` is (beats in a bar, unit)."""

    name: str
    title: str
    key: str
    tempo: float
    meter: tuple[int, int]
    steps: tuple[Step, ...]
    topic: str = ""
    difficulty: int = 1
    about: str = ""
    listen_for: str = ""
    move_on: str = ""
    timing_ms: float = 80.0
    weights: Weights = field(default_factory=Weights)
    text: str = field(default="", repr=False, compare=False)

    @property
    def seconds_per_beat(self) -> float:
        """At the drill's own tempo."""
        return 60.0 / self.tempo
