"""The pattern of a passage as the drill file has it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Final

from listener.drill.exercises.spots import Spot
from listener.drill.reading.fields import Table
from listener.errors import MusicError
from listener.music.pattern import (
    OVER_BAR,
    OVERS,
    PLACE_WORDS,
    STRAIGHT,
    Pattern,
    Place,
    count_words,
)
from listener.music.pattern_text import PICK_EXAMPLE, STRUM_EXAMPLE, read_picks, read_strums
from listener.records import said, text

PATTERN: Final = "pattern"
#: The drill's field for notes that all come one by one; then there is no room for a pattern.
ARPEGGIO: Final = "arpeggio"
#: The drill's field for chords that want all their strings at once; then none is picked apart.
TOGETHER: Final = "together_ms"
#: A melody's notes have times of their own.
MELODY: Final = "melody"
STRUM: Final = "strum"
PICK: Final = "pick"
PATTERN_FIELDS: Final = (STRUM, PICK, "place", "over", "swing")
DEFAULT_PLACE: Final = "1/8"
#: Swing beyond a dotted rhythm is none (our choice).
MOST_SWING: Final = 0.75
#: What swing is rounded to, so that 0.67 is two thirds.
_SWING_PARTS: Final = 12
_EXAMPLE: Final = f'{{ {STRUM} = "{STRUM_EXAMPLE}" }}'


def read_pattern(table: Table, meter: tuple[int, int], drill: Mapping[str, object]) -> Pattern | None:
    """The field ``pattern`` of a passage, which is there; None where it is wrong, which is reported.

    ``drill`` are the fields of the whole drill: it may say itself how the notes of all its chords follow each other.
    """
    inner = table.inner(PATTERN, f"a table such as {_EXAMPLE}")
    if inner is None:
        return None
    if drill.get(ARPEGGIO) is True:
        table.wrong(PATTERN, f"and '{ARPEGGIO}' both say how the notes of a chord follow each other; keep one of them")
    if table.has(MELODY):
        table.wrong(PATTERN, f"and '{MELODY}' both say when something is struck; keep one of them")
        return None
    inner.check_names(PATTERN_FIELDS, f"'{PATTERN}'")
    over = inner.word("over", OVERS) or OVER_BAR
    swing = inner.number("swing", float(STRAIGHT), MOST_SWING) or STRAIGHT
    place = inner.word("place", PLACE_WORDS) or DEFAULT_PLACE
    written = [name for name in (STRUM, PICK) if inner.has(name)]
    if len(written) != 1:
        both = f"has both '{STRUM}' and '{PICK}'; keep one of them"
        table.wrong(PATTERN, both if written else f"says nothing; write for example {PATTERN} = {_EXAMPLE}")
        return None
    if TOGETHER in drill and written[0] == PICK:
        table.wrong(PATTERN, f"picks a chord apart, and '{TOGETHER}' wants its strings at once; keep one of them")
    places = _places(inner, written[0])
    room = int(Fraction(*meter) / Fraction(place))
    if len(places) > room:
        bar = f"{meter[0]}/{meter[1]}"
        here = f"has {len(places)} places of {place}, and a bar of {bar} has room for {room}"
        inner.wrong(written[0], f"{here}; leave some out, or make 'place' shorter")
        return None
    rounded = Fraction(swing).limit_denominator(_SWING_PARTS)
    return Pattern(places, Fraction(place), meter, over, rounded) if places else None


def _places(inner: Table, name: str) -> tuple[Place, ...]:
    """Empty where they cannot be read, which is reported on the line where reading stopped."""
    example = STRUM_EXAMPLE if name == STRUM else PICK_EXAMPLE
    written = inner.read(name, said(text(), f'a text such as "{example}"'), None)
    if written is None:
        return ()
    try:
        return read_strums(written) if name == STRUM else read_picks(written)
    except MusicError as error:
        line = inner.report.lines.line_in(inner.place(name), error.position)
        inner.report.add_at(line, f"'{name}'{',' if str(error).startswith('place ') else ''} {error}")
        return ()


def check_beginnings(table: Table, pattern: Pattern, spots: Iterable[Spot]) -> None:
    """Complain about the first chord that the pattern does not strike where it begins: it could only come late."""
    for spot in spots:
        first = next(iter(pattern.placed(spot.start, spot.length)), None)
        at = spot.start % pattern.meter[0]
        if first is None or first.count != at or not first.place.struck:
            bar = int(spot.start // pattern.meter[0]) + 1
            where = f"{spot.chord} begins (on {count_words(at)} of bar {bar} of the passage)"
            also = "" if pattern.over != OVER_BAR else ', or write over = "chord"'
            table.wrong(PATTERN, f"strikes nothing where {where}; strike there{also}")
            return
