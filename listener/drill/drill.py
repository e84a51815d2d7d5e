"""What a drill asks for, once its file has been read: passages of steps, each with a wish.

Beats are quarter notes in x/4 meters and eighths in x/8 ones: the unit that the meter names.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

from listener.drill.manners import VOICE_LEADING, Taste, Weights, manner
from listener.music.chord import Chord
from listener.music.pattern import Pattern, Placed
from listener.music.pitch import Pitch, Tone
from listener.music.voicing import FULL

#: What a player likes who has said nothing.
USUAL_TASTE: Final = Taste()

#: How strictly a step is judged, strictest first (the words of the drill file).
EXACT: Final = "exact pitches"
SAME_FINGERING: Final = "same fingering"
SAME_KIND: Final = "same kind and top"
SAME_CHORD: Final = "same chord"
STRICTNESS: Final = (EXACT, SAME_FINGERING, SAME_KIND, SAME_CHORD)

#: What onsets are compared with: the click itself, or the player's own mean offset from it.
WITH_CLICK: Final = "click"
OWN_MEAN: Final = "own mean"
TIMINGS: Final = (WITH_CLICK, OWN_MEAN)

#: The tempos that anybody practises at, in beats a minute.
SLOWEST: Final = 20.0
FASTEST: Final = 400.0

#: The word of the field ``remarks`` for a drill in which remarks are faults.
REMARKS_AS_FAULTS: Final = "faults"


#: Which voice is to stand out, and how loud a passage is meant beside others.
BALANCE_TOP: Final = "top"
BALANCES: Final = (BALANCE_TOP, "bottom")
QUIET: Final = "quiet"
LOUD: Final = "loud"
LEVELS: Final = (QUIET, LOUD)

#: How a line may go on: rising, falling, standing still; ``keep``: the same note wherever the chord has it; ``highest``
#: and ``lowest``: the highest or lowest note that can be played here, whatever came before.
MOTIONS: Final = ("up", "down", "same", "keep", "highest", "lowest")


@dataclass(frozen=True)
class NoteWish:
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

    With ``added_top`` the pitch in ``top`` need not belong to the chord: when it does not, it is added above a voicing
    of the wished kind, at most an octave over its highest note (a melody note over a comped chord). ``exact`` fixes all
    pitches (MIDI, low to high); kinds, size and inversion then do not matter, and the pitches may be foreign to the
    chord (spelled by ``spelling`` where they are). ``exact_strings`` are the strings of those pitches, one by one, None
    where any will do; empty where nobody has said anything about strings.
    """

    chord: Chord
    kinds: tuple[str, ...]
    top: NoteWish = NoteWish()
    bottom: NoteWish = NoteWish()
    inversion: int | None = None
    without: tuple[str, ...] = ()
    size: int | None = None
    strings: tuple[int, ...] | None = None
    frets: tuple[int, int] | None = None
    open_strings: bool = True
    added_top: bool = False
    exact: tuple[int, ...] | None = None
    exact_strings: tuple[int | None, ...] = ()
    spelling: tuple[Tone, ...] = ()

    @property
    def is_strummed(self) -> bool:
        """Only a full shape will do."""
        return set(self.kinds) == {FULL}


@dataclass(frozen=True)
class Step:
    """One target. ``index`` counts from 0 through the whole drill; ``bar`` and ``beat`` count from 1.

    ``top_motion`` and ``bottom_motion`` (:data:`MOTIONS`) say how the line goes on from the step before; ``hold`` are
    pitches (MIDI) of the step before that keep sounding, on the same string and fret. ``pattern`` is how the chord is
    played in time; None leaves that to the player. ``weights`` is what the planner minds here and on the way here. With
    ``under`` only the top note is new: all notes under it stay from the step before, on their strings and frets.

    With ``ring`` every voice is to be held to the change; ``balance`` (:data:`BALANCES`) is the voice that is to stand
    out, ``level`` (:data:`LEVELS`) how loud the chord is meant beside those of other passages.
    """

    index: int
    passage: str
    bar: int
    beat: float
    start_beats: float
    length_beats: float
    wish: Wish
    strictness: str = EXACT
    line: int = 0
    top_motion: str | None = None
    bottom_motion: str | None = None
    hold: tuple[int, ...] = ()
    pattern: Pattern | None = None
    weights: Weights = field(default_factory=lambda: manner(VOICE_LEADING))
    under: bool = False
    ring: bool = False
    balance: str | None = None
    level: str | None = None

    @property
    def free_voicing(self) -> bool:
        """Other voicings than the planned one are right as well."""
        return self.strictness in (SAME_KIND, SAME_CHORD)

    @property
    def placed(self) -> tuple[Placed, ...]:
        """The places of the pattern, from the step's start; none without a pattern."""
        return self.pattern.placed(self.start_beats, self.length_beats) if self.pattern is not None else ()


@dataclass(frozen=True)
class Drill:
    """A whole drill. ``key`` is as written (``"G major"``), ``meter`` is (beats in a bar, unit).

    ``timing`` is one of :data:`TIMINGS`. With ``loop`` the change from the last step back to the first counts too.
    With ``least_movement`` nothing matters but movement; the prices only choose among routes that move equally little.
    With ``arpeggio`` the notes of each chord are meant to be played one after the other: a chord is heard out until its
    step is over (with the click) or until all of it was played (at the player's own pace). ``together_ms`` is how long
    a chord may take from its first string to its last; None lets the player roll it. With ``remarks`` the end
    of a take says where voices went in parallel, crossed or stood far apart; when it is :data:`REMARKS_AS_FAULTS`, what
    the plan has no such remark for is a fault, too. ``instead`` is the name of a drill for
    hands that cannot play this one, empty where there is none. ``notes`` say what a player should know about the
    exercises, such as notes that were left out because no hand reaches them. ``taste`` is the player's, see
    :meth:`to_taste`.
    """

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
    instead: str = ""
    timing_ms: float = 80.0
    timing: str = WITH_CLICK
    loop: bool = False
    least_movement: bool = False
    arpeggio: bool = False
    together_ms: float | None = None
    remarks: bool | str = False
    notes: tuple[str, ...] = ()
    taste: Taste = USUAL_TASTE
    text: str = field(default="", repr=False, compare=False)

    @property
    def weights(self) -> tuple[Weights, ...]:
        """What each step minds."""
        return tuple(step.weights for step in self.steps)

    def to_taste(self, taste: Taste) -> Drill:
        """The same drill for a player who likes chords so; only once for a drill."""
        if taste == self.taste:
            return self
        steps = tuple(replace(step, weights=taste.of(step.weights)) for step in self.steps)
        return replace(self, steps=steps, taste=taste)

    @property
    def seconds_per_beat(self) -> float:
        """At the drill's own tempo."""
        return 60.0 / self.tempo
