"""The questions of ``widehand drills new``, one after the other, each with a default and an example.

An answer that makes no sense is explained and asked for again. Every answer is tried on the drill as it is so far, by
the reader of drill files itself.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from listener.commands.guitar.asking import Ask, Say, ask_here, asked_until, say_here
from listener.drill.drill import FASTEST, SLOWEST
from listener.drill.drill_text import Sketch
from listener.drill.making.new_drill import faults, proposed_kind
from listener.errors import MusicError, UsageError, WidehandError
from listener.music.scale import parse_key
from listener.tunes.chord_line import read_chord_line

#: Says of a title why no drill can be written under it; None when one can.
Taken = Callable[[str], str | None]

_TITLE: Final = "My drill"
_ANY: Final = "any"
_HEAD: Final = "A new drill. Enter takes what stands in [ ]; Ctrl-C leaves and writes nothing."
_FOUR: Final = {"major": "I | vi | IV | V", "minor": "i | VI | III | VII"}
#: What only makes sense over the chords, so that it is tried after they are known.
_NEED_CHORDS: Final = ("kind", "top")
#: What the questions call the fields of the file.
_FIELD: Final = re.compile(r"^'(\w+)'(: )?")
_SPOKEN: Final = {"kind": "the spacing", "top": "what is on top", "meter": "the meter", "title": "the title"}
#: Lines that one answer can be told of.
_MOST_FAULTS: Final = 4
_MOTIONS: Final = (_ANY, "up", "down", "same", "keep")


@dataclass(frozen=True)
class Question:
    """``usual`` gives the default, ``take`` the sketch with the answer in it; it raises :class:`WidehandError`."""

    field: str
    words: str
    usual: Callable[[Sketch], str]
    take: Callable[[Sketch, str], Sketch]


def ask_all(
    given: Mapping[str, str],
    *,
    title: str | None = None,
    taken: Taken | None = None,
    ask: Ask | None = None,
    say: Say | None = None,
) -> Sketch:
    """The sketch from the answers; what is ``given`` already, by field, is not asked for. ``title`` is proposed.

    A title that is ``taken`` is asked for again at once, so that no answer is lost in the end. KeyboardInterrupt, and
    the end of the input, leave without a sketch.
    """
    ask, say, taken = ask or ask_here, say or say_here, taken or (lambda _: None)
    questions = (_only_free(QUESTIONS[0], taken), *QUESTIONS[1:])
    sketch = Sketch(title=title or _free_title(taken), key="C major", chords=_FOUR["major"], notation="numerals")
    for question in questions:
        if question.field in given and question.field not in _NEED_CHORDS:
            sketch = _given(question, sketch, given)
    say(_HEAD)
    for question in questions:
        if question.field not in given:
            sketch = _asked(question, sketch, ask, say)
        elif question.field in _NEED_CHORDS:
            sketch = _given(question, sketch, given)
    return sketch


def _free_title(taken: Taken) -> str:
    """My drill, or My drill 2 and so on where that is taken."""
    titles = (_TITLE, *(f"{_TITLE} {number}" for number in range(2, 100)))
    return next((title for title in titles if taken(title) is None), _TITLE)


def _only_free(question: Question, taken: Taken) -> Question:
    """The question for the title, which takes only titles that are free."""

    def take(sketch: Sketch, answer: str) -> Sketch:
        found = question.take(sketch, answer)
        fault = taken(found.title)
        if fault is not None:
            raise UsageError(fault)
        return found

    return replace(question, take=take)


def _given(question: Question, sketch: Sketch, given: Mapping[str, str]) -> Sketch:
    """An option that answers the question; a wrong one is wrong usage."""
    try:
        return question.take(sketch, given[question.field])
    except WidehandError as error:
        raise UsageError("; ".join(str(error).splitlines())) from None


def _asked(question: Question, sketch: Sketch, ask: Ask, say: Say) -> Sketch:
    usual = question.usual(sketch)
    return asked_until(question.words, usual, lambda answer: question.take(sketch, answer), ask, say)


def _good(sketch: Sketch) -> Sketch:
    """The sketch, if a drill file of it can be read."""
    found = faults(sketch)
    if found:
        lines = [_FIELD.sub(_spoken, text) for text in found[:_MOST_FAULTS]]
        rest = len(found) - len(lines)
        raise MusicError("\n".join((*lines, f"and {rest} more") if rest else lines))
    return sketch


def _spoken(match: re.Match[str]) -> str:
    """The field that a fault begins with, as the question calls it; before a colon it goes without saying."""
    return "" if match[2] else _SPOKEN.get(match[1], match[1])


def _take_key(sketch: Sketch, answer: str) -> Sketch:
    key = parse_key(answer)
    return replace(sketch, key=str(key), chords=_FOUR[key.mode])


def _take_chords(sketch: Sketch, answer: str) -> Sketch:
    line = read_chord_line(answer, parse_key(sketch.key))
    return _good(replace(sketch, chords=line.text, notation=line.notation))


def _take_kind(sketch: Sketch, answer: str) -> Sketch:
    """Drop2 and Close are understood as they are meant."""
    kind = re.sub(r"\bdrop\s*(?=\d)", "drop ", " ".join(answer.lower().split()))
    return _good(replace(sketch, kind=kind))


def _take_top(sketch: Sketch, answer: str) -> Sketch:
    plain = answer.lower() if answer.lower() in _MOTIONS else answer
    return _good(replace(sketch, top="" if plain == _ANY else plain))


def _take_tempo(sketch: Sketch, answer: str) -> Sketch:
    try:
        tempo = float(answer.replace(",", "."))
    except ValueError:
        tempo = float("nan")
    if not SLOWEST <= tempo <= FASTEST:
        raise UsageError(f"give a number from {SLOWEST:g} to {FASTEST:g}, not '{answer}'")
    return replace(sketch, tempo=tempo)


QUESTIONS: Final = (
    Question(
        "title",
        "What is it called? Such as Rainy verse",
        lambda sketch: sketch.title,
        lambda sketch, answer: _good(replace(sketch, title=answer)),
    ),
    Question("key", "In which key? Such as G, Bb or F# minor", lambda sketch: sketch.key, _take_key),
    Question(
        "chords",
        "The chords, with | between bars. Such as C | Am7 D7/F# | G, or numerals",
        lambda sketch: sketch.chords,
        _take_chords,
    ),
    Question(
        "kind",
        "How spaced? spread, close, shell, drop 2, drop 3, full, any; or spread or close",
        proposed_kind,
        _take_kind,
    ),
    Question(
        "top",
        "What on top? A degree (3), up, down, keep, notes (E4 F4 ...), any",
        lambda sketch: sketch.top or _ANY,
        _take_top,
    ),
    Question("tempo", "How fast, in beats a minute? Such as 72", lambda sketch: f"{sketch.tempo:g}", _take_tempo),
    Question(
        "meter",
        "The meter? Such as 3/4 or 6/8",
        lambda sketch: sketch.meter,
        lambda sketch, answer: _good(replace(sketch, meter=answer)),
    ),
)
