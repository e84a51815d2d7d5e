"""One ``[[passage]]`` of a drill file: its exercise laid out in bars, a wish for every chord, in every key."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Final

from listener.drill.chance import dealt, shuffled
from listener.drill.drill import STRICTNESS, Step, Wish
from listener.drill.exercises.contrast import sides
from listener.drill.exercises.registry import CONTRAST, EXERCISES, SCALE_RUN, check_names, likely_exercise
from listener.drill.exercises.spots import MOST_STEPS, Beside, PassageFrame, Round, Spot, TooManySteps
from listener.drill.reading.fields import Table, one_of
from listener.drill.reading.keys import read_keys
from listener.drill.reading.minding import MANNER, Minding, in_passage
from listener.drill.reading.patterns import PATTERN, check_beginnings, read_pattern
from listener.drill.reading.touching import TOUCH_FIELDS, Touching, read_touching
from listener.drill.reading.wish_fields import WISH_FIELDS, WishFields, read_wish_fields
from listener.drill.reading.wishes import WishMaker
from listener.drill.transposing import Move, fitting
from listener.errors import MusicError
from listener.music.pattern import Pattern
from listener.music.scale import Key, parse_key
from listener.records import shown

OWN_FIELDS: Final = ("name", "exercise", "key", "strictness", "keys", "shuffle", "seed", PATTERN, MANNER, *TOUCH_FIELDS)
SHUFFLES: Final = ("keys", "kinds", "changes")
LARGEST_SEED: Final = 2**31 - 1


@dataclass(frozen=True, slots=True)
class DrillDefaults:
    """What the drill says for all its passages; ``table`` has the fields that a passage takes over, ``minding`` is what
    it says about prices."""

    key: Key | None
    meter: tuple[int, int]
    strictness: str
    table: Table
    minding: Minding
    beside: Beside | None = None


@dataclass(frozen=True, slots=True)
class Passage:
    """The steps of one passage and the whole bars that it takes."""

    steps: tuple[Step, ...] = ()
    bars: int = 0


@dataclass(frozen=True, slots=True)
class _Made:
    """A spot with its wish and motions."""

    spot: Spot
    wish: Wish
    top_motion: str | None
    bottom_motion: str | None


@dataclass(frozen=True, slots=True)
class _Part:
    """One exercise in one key: what a passage is made of."""

    name: str
    strictness: str
    made: tuple[_Made, ...]
    bars: int
    times: int
    minding: Minding
    melody: bool
    pattern: Pattern | None = None
    touching: Touching = field(default_factory=Touching)

    @property
    def step_count(self) -> int:
        return len(self.made) * self.times


def read_key(table: Table) -> Key | None:
    """The field ``key``; None when it is missing or cannot be read (which is then reported)."""
    text = table.text("key")
    if not text:
        return None
    try:
        return parse_key(text)
    except MusicError as error:
        table.wrong("key", f"cannot be read: {error}")
        return None


def read_seed(table: Table) -> int | None:
    """The field ``seed``."""
    return table.whole("seed", 0, LARGEST_SEED)


def read_shuffle(table: Table) -> tuple[str, ...]:
    """The field ``shuffle``: a word or a list of them."""
    value = table.values.get("shuffle", [])
    words = value if isinstance(value, list) else [value]
    if not all(isinstance(word, str) and word in SHUFFLES for word in words):
        wrong = next(word for word in words if word not in SHUFFLES)
        table.wrong("shuffle", f"must be {one_of(SHUFFLES)}, or a list of them, not {shown(wrong)}")
        return ()
    return tuple(words)


def read_passage(table: Table, number: int, setting: DrillDefaults, first_index: int, first_bar: int) -> Passage:
    """Read one passage. ``number`` counts from 1, ``first_index`` steps and ``first_bar`` bars went before.

    Raises :class:`TooManySteps` where the drill becomes too large.
    """
    exercise = table.word("exercise", EXERCISES) or likely_exercise(table)
    check_names(table, exercise, (*OWN_FIELDS, *WISH_FIELDS))
    key = read_key(table) if table.has("key") else setting.key
    seed = read_seed(table if table.has("seed") else setting.table)
    shuffle = read_shuffle(table if table.has("shuffle") else setting.table)
    frame = PassageFrame(key, *setting.meter, 1 if seed is None else seed, shuffle, setting.beside)
    keys = read_keys(table if table.has("keys") else setting.table, key)
    if keys and "keys" in shuffle:
        keys = tuple(shuffled(keys, frame.seed))
    name = table.text("name") or f"passage {number}"
    one_key = _OneKey(table, exercise, name, setting)
    home = one_key.read(frame)
    count = sum(part.step_count for part in home) * (len(keys) if keys else 1)
    if first_index + count > MOST_STEPS:
        raise TooManySteps
    parts = home if keys is None or key is None else one_key.through(keys, key, home, frame)
    return _laid_out(parts, first_index, first_bar, setting.meter[0])


@dataclass(frozen=True, slots=True)
class _OneKey:
    """Reads the parts of a passage in its own key, and takes them to others."""

    table: Table
    exercise: str
    name: str
    setting: DrillDefaults

    def read(self, frame: PassageFrame) -> tuple[_Part, ...]:
        """The parts in the key of the frame (moved by the frame's move when the exercise does that itself)."""
        named = sides(self.table, self.name) if self.exercise == CONTRAST else [(self.name, self.table)]
        known: dict[int, _Part] = {}
        for name, table in named:
            if id(table) not in known:
                known[id(table)] = _part(table, name, self.exercise, self.setting, frame)
        return tuple(known[id(table)] for _, table in named)

    def through(self, keys: Iterable[Key], home: Key, parts: Sequence[_Part], frame: PassageFrame) -> tuple[_Part, ...]:
        """The parts in all the keys, one key after the other."""
        found: list[_Part] = []
        for number, to in enumerate(keys):
            move = Move(home, to)
            if EXERCISES[self.exercise].moves_itself:
                moved = self.read(replace(frame, move=move))
            else:
                # Kinds without a pattern are dealt out anew in every key.
                anew = number > 0 and "kinds" in frame.shuffle
                here = self.read(replace(frame, seed=frame.seed + number)) if anew else parts
                move = fitting(move, [made.wish for part in here for made in part.made])
                moved = tuple(replace(part, made=tuple(_moved(part.made, move))) for part in here)
            found += [replace(part, name=f"{part.name}, in {to}") for part in moved]
        return tuple(found)


def _moved(made: Iterable[_Made], move: Move) -> Iterator[_Made]:
    """In another key; equal wishes are moved once."""
    known: dict[int, Wish] = {}
    for one in made:
        if id(one.wish) not in known:
            known[id(one.wish)] = move.wish(one.wish)
        hold = tuple(note + move.semitones for note in one.spot.hold)
        yield replace(one, wish=known[id(one.wish)], spot=replace(one.spot, hold=hold))


def _part(table: Table, name: str, exercise: str, setting: DrillDefaults, frame: PassageFrame) -> _Part:
    strictness = table.word("strictness", STRICTNESS) or setting.strictness
    pattern = read_pattern(table, setting.meter, setting.table.values) if table.has(PATTERN) else None
    fields = read_wish_fields(table)
    in_turn = EXERCISES[exercise].kinds
    if in_turn is not None:
        fields = replace(fields, kinds=in_turn(fields.kinds))
    one_round = EXERCISES[exercise].read(table, fields, frame)
    if one_round.times * len(one_round.spots) > MOST_STEPS:
        raise TooManySteps
    if "kinds" in frame.shuffle:
        fields = _shuffled_kinds(fields, one_round, frame.seed)
    maker = WishMaker(table, fields)
    made = tuple(_Made(spot, maker.wish(spot), *maker.motions(spot)) for spot in one_round.spots)
    if made:
        maker.finish()
    if pattern is not None:
        check_beginnings(table, pattern, one_round.spots)
    minding = in_passage(table, setting.minding)
    touching = read_touching(table, setting.table, pattern)
    melody = exercise == SCALE_RUN
    return _Part(name, strictness, made, one_round.bars, one_round.times, minding, melody, pattern, touching)


def _shuffled_kinds(fields: WishFields, one_round: Round, seed: int) -> WishFields:
    """Kinds dealt out anew: each as often as before, in an order that the seed settles; voices go with them."""
    count = 1 + max((spot.place for spot in one_round.spots), default=0)
    turns = dealt(range(len(fields.kinds)), count, seed)
    voices = fields.voices
    if len(voices) == len(fields.kinds):
        voices = tuple(voices[turn] for turn in turns)
    return replace(fields, kinds=tuple(fields.kinds[turn] for turn in turns), voices=voices)


def _laid_out(parts: Iterable[_Part], first_index: int, first_bar: int, bar_beats: int) -> Passage:
    """The steps, one part after the other, each beginning on a bar line."""
    steps: list[Step] = []
    bars = 0
    for part in parts:
        ends = {0, part.step_count - 1}
        for turn in range(part.times):
            start = Fraction((first_bar + bars) * bar_beats)
            for n, one in enumerate(part.made):
                end = turn * len(part.made) + n in ends
                # Nothing leads into a passage, nor out of a strummed shape into voices.
                led = bool(steps) and (one.wish.is_strummed or not steps[-1].wish.is_strummed)
                steps.append(_step(part, one, first_index + len(steps), start, bar_beats, end=end, led=led))
            bars += part.bars
    return Passage(tuple(steps), bars)


def _step(part: _Part, made: _Made, index: int, start: Fraction, bar_beats: int, *, end: bool, led: bool) -> Step:
    spot = made.spot
    at = start + spot.start
    return Step(
        index=index,
        passage=part.name,
        bar=int(at // bar_beats) + 1,
        beat=float(at % bar_beats) + 1.0,
        start_beats=float(at),
        length_beats=float(spot.length),
        wish=made.wish,
        strictness=part.strictness,
        line=spot.line,
        top_motion=made.top_motion,
        bottom_motion=made.bottom_motion,
        hold=spot.hold,
        pattern=part.pattern,
        under=spot.under,
        ring=part.touching.ring,
        balance=part.touching.balance,
        level=part.touching.level,
        weights=part.minding.weights(made.wish, melody=part.melody, end=end, led=led and not spot.unled),
    )
