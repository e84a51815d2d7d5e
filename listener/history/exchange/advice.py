"""What a teacher might say next to a student, from what the takes show. Pure.

The order and the thresholds are our own choice, and common practice among teachers: first whether somebody plays at
all, then what went well, then the one thing to work on. A teacher who was in the room knows better.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Final

from listener.history.progress.summary import DrillProgress, Progress
from listener.history.progress.trend import change_words
from listener.judging.account import STEADY_MS

#: Days without a take after which one asks first.
AWAY_DAYS: Final = 14
#: Share of hits below which a change is worth an evening of its own.
_WEAK: Final = 0.75
#: Chords against the click from which a spread says something.
_ENOUGH: Final = 16

#: What helps against each kind of fault, from the judge's codes.
_HELP: Final = {
    "nothing": "chords are not coming out: have the fingers placed without sound first",
    "left_out": "chords are left out: a slower tempo, until every one has time to come",
    "octave": "whole chords lie in another octave: look at the neck together",
    "spacing": "the spacing is not the one asked for: play the voices one by one and listen to the gaps",
    "inversion": "the inversion is another: have the bass sung before the chord is played",
    "wrong_octave": "single voices lie in another octave: play the chords from the lowest string up",
    "top_note": "the note on top is another: have the top line sung alone, then played with the chords under it",
    "wrong_tone": "wrong tones: play the chords from the lowest string up",
    "missing": "tones are missing: pluck each string of a shape by itself until all of them speak",
    "extra": "tones too many: practise muting the strings that a shape leaves out",
    "other_chord": "other chords than the drill's: say the changes aloud before playing",
    "late": "chords come late: a slower click, the fingers placed before the beat",
    "early": "chords come early: a slower click, and wait for it",
    "string": "other strings than planned: look at the neck diagrams together",
    "rolled": "chords are rolled that should sound at once: have all fingers set down first, then one stroke",
    "parallel_fifths": "voices go in parallel fifths: have a common tone held, or one voice moved against the other",
    "parallel_octaves": "voices go in parallel octaves: have the bass sung alone, then a top line moved against it",
    "contrary_fifths": "voices leap from fifth to fifth: look together for a nearer voicing, one tone held",
    "contrary_octaves": "voices leap from octave to octave: look together for a nearer voicing, one tone held",
    "hidden_octave": "bass and top leap into an octave: have the top come by step, or the bass go the other way",
    "crossing": "voices cross: have each sung by itself, then play them with every one on its own side",
}


def advice(progress: Progress, last: datetime | None, now: datetime) -> tuple[str, ...]:
    """Sentences, the most pressing first; always at least one. ``last`` is when the newest take began."""
    if last is None:
        return ("No takes in here yet: ask what got in the way.",)
    return tuple(_sentences(progress, last, now)) or ("Going well as it is: a few more takes of the same.",)


def _sentences(progress: Progress, last: datetime, now: datetime) -> Iterator[str]:
    away = (now - last).days
    if away >= AWAY_DAYS:
        yield f"No take for {away} days: ask how it is going, and begin again with something easy."
    newest = progress.drills[0] if progress.drills else None
    if newest is None:
        yield "Nothing that was judged yet, only free playing: agree on a drill."
        return
    if newest.last.went_well:
        yield _well(newest)
    change = next((one for one in progress.weak_changes if one.hit_rate < _WEAK), None)
    if change is not None:
        yield (
            f"{change_words(change)} came off {change.hits} of {change.attempts} times: "
            "have that change played alone, slowly, without the click."
        )
    account = newest.account
    code, strokes = account.faults[0] if account.faults else ("", 0)
    if strokes > 1:
        yield f"In {newest.drill}, {_HELP.get(code, code.replace('_', ' '))}."
    spread_ms = account.spread_ms
    if spread_ms is not None and account.onsets >= _ENOUGH and spread_ms > STEADY_MS:
        yield f"Timing in {newest.drill} spreads by {spread_ms:.0f} ms: a slower click, and count aloud."
    if newest.last.account.broken_off and not newest.whole_takes:
        far = newest.last.account.how_far
        yield f"{newest.drill} was not played to its end yet ({far}): ask where it stops, and begin there."


def _well(drill: DrillProgress) -> str:
    share = f"{100 * drill.last.account.share:.0f} %"
    if drill.last.tempo is None:
        return f"{drill.drill} went well at the last take ({share} hits): say so, and bring in the click."
    well = f"{drill.drill} went well at {drill.last.tempo:g} ({share} hits)"
    return f"{well}: say so, then a faster click or the next drill."


def fault_words(code: str) -> str:
    """A kind of fault in a few words.

    >>> fault_words("missing")
    'tones are missing'
    """
    return _HELP.get(code, code.replace("_", " ")).split(":")[0]
