"""One ``[[passage]]`` of a drill file: its exercise laid out in bars, a wish for every chord."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from listener.errors import MusicError
from listener.music.scale import Key, parse_key
from listener.planning.drill import STRICTNESS, Step
from listener.planning.exercises import EXERCISE_FIELDS, PROGRESSION, SCALE_RUN, Round, progression
from listener.planning.fields import Table
from listener.planning.scale_run import scale_run
from listener.planning.wish_fields import WISH_FIELDS, read_wish_fields
from listener.planning.wishes import WishMaker

_OWN_FIELDS: Final = ("name", "exercise", "key", "strictness")
MOST_STEPS: Final = 10_000


@dataclass(frozen=True, slots=True)
class Setting:
    """What the drill says for all its passages."""

    key: Key | None
    bar_beats: int
    strictness: str


@dataclass(frozen=True, slots=True)
class Passage:
    """The steps of one passage and the whole bars that it takes."""

    steps: tuple[Step, ...]
    bars: int


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


def read_passage(table: Table, number: int, setting: Setting, first_index: int, first_bar: int) -> Passage:
    """Read one passage. ``number`` counts from 1, ``first_index`` steps and ``first_bar`` bars went before."""
    exercise = table.word("exercise", EXERCISE_FIELDS) or _likely_exercise(table)
    _check_names(table, exercise)
    name = table.text("name") or f"passage {number}"
    key = read_key(table) if table.has("key") else setting.key
    strictness = table.word("strictness", STRICTNESS) or setting.strictness
    fields = read_wish_fields(table)
    if exercise == PROGRESSION:
        one_round = progression(table, fields, key, setting.bar_beats)
    else:
        one_round = scale_run(table, fields, key.scale if key else None, setting.bar_beats)
    if first_index + one_round.times * len(one_round.spots) > MOST_STEPS:
        table.report.add(table.path, f"the drill has more than {MOST_STEPS:,} steps from here on; make it shorter")
        return Passage((), 0)
    maker = WishMaker(table, fields)
    wishes = [
        maker.wish(spot.chord, spot.place, spot.line, top=spot.top, inversion=spot.inversion)
        for spot in one_round.spots
    ]
    if wishes:
        maker.finish()
    timing = _Timing(one_round, setting.bar_beats, first_bar)
    steps = tuple(
        Step(
            index=first_index + turn * len(wishes) + place,
            passage=name,
            bar=timing.bar(turn, place),
            beat=timing.beat(turn, place),
            start_beats=float(timing.start(turn, place)),
            length_beats=float(one_round.spots[place].length),
            wish=wish,
            strictness=strictness,
            line=one_round.spots[place].line,
        )
        for turn in range(one_round.times)
        for place, wish in enumerate(wishes)
    )
    return Passage(steps, one_round.times * one_round.bars)


@dataclass(frozen=True, slots=True)
class _Timing:
    """When each spot of each turn falls, ``first_bar`` bars having gone before."""

    one_round: Round
    bar_beats: int
    first_bar: int

    def start(self, turn: int, place: int) -> Fraction:
        bars_before = self.first_bar + turn * self.one_round.bars
        return bars_before * self.bar_beats + self.one_round.spots[place].start

    def bar(self, turn: int, place: int) -> int:
        return int(self.start(turn, place) // self.bar_beats) + 1

    def beat(self, turn: int, place: int) -> float:
        return float(self.start(turn, place) % self.bar_beats) + 1.0


def _likely_exercise(table: Table) -> str:
    """The exercise of a passage that does not name one (or names an unknown one): a scale makes it a run."""
    return SCALE_RUN if table.has("scale") and not table.has("chords") else PROGRESSION


def _check_names(table: Table, exercise: str) -> None:
    """Complain about unknown fields, and about those of the other exercise."""
    allowed = (*_OWN_FIELDS, *EXERCISE_FIELDS[exercise], *WISH_FIELDS)
    strangers = {}
    for other, names in EXERCISE_FIELDS.items():
        for name in names:
            if other != exercise and table.has(name):
                table.wrong(name, f"belongs to the exercise '{other}', but this passage is a '{exercise}'")
                strangers[name] = True
    table.check_names((*allowed, *strangers), f"a {exercise}")
