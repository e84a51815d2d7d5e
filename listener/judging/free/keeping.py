"""What was played becomes a drill: a take in, the sketch of a drill out, with what could not be understood beside it.

Which drill a take was of does not matter here: chords, strings and times come from what sounded, bars and tempo from
the click of the take, and where there was none from the playing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import inf
from statistics import median
from typing import Final

from listener.drill.drill_text import Sketch
from listener.drill.making.as_played import as_playable, names
from listener.drill.making.beats_found import Beats, Click, Struck, with_click, without_click
from listener.drill.making.played import PlayedChord, PlayedNote, Unclear
from listener.drill.making.played_drill import sketch_of_played
from listener.errors import SourceError
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.hearing.events import Message
from listener.hearing.pickup import Pickup
from listener.hearing.take_file import CLICK, AnyTake, Mark, TakeHeader
from listener.judging.free.harmony import HarmonyChord
from listener.judging.free.keeping_words import (
    cleaned_words,
    nothing_words,
    pace_words,
    part_list,
    unclear_words,
)
from listener.judging.free.transcribing import transcribed
from listener.judging.marks import PAUSE, click_of, goes_on, in_order
from listener.judging.step_names import symbols_of
from listener.music.chord import UNNAMED
from listener.music.meter import read_meter
from listener.music.pitch import spell
from listener.music.scale import Key

Pitches = tuple[int, ...]

#: More chords than this nobody practises as one drill.
MOST_CHORDS: Final = 500
#: Without a click a passage ends with a silence of so many seconds that is also longer than so many chords usually are.
SILENCE_S: Final = 3.0
_SILENT_CHORDS: Final = 2.5
#: Strings that follow each other so quickly (seconds) are one strum, however many strokes they were gathered in.
_ONE_STRUM_S: Final = 0.12


@dataclass(frozen=True, slots=True)
class TakeHints:
    """What the player says about a take; None and infinity where nothing is said. ``part`` counts from 1."""

    title: str
    key: Key | None = None
    tempo: float | None = None
    meter: tuple[int, int] | None = None
    from_s: float = 0.0
    to_s: float = inf
    part: int | None = None
    last_part: bool = False


@dataclass(frozen=True, slots=True)
class KeptDrill:
    """The sketch of a drill with its remarks, what could not be understood, and whether the bars were ``found`` in the
    playing. ``chords`` are those of the drill, part by part, and ``beats`` their places."""

    sketch: Sketch
    unclear: tuple[Unclear, ...]
    found: bool
    chords: tuple[tuple[PlayedChord, ...], ...]
    beats: Beats


@dataclass(slots=True)
class _Part:
    chords: list[PlayedChord]
    click: Click | None


def keep(take: AnyTake, name: str, pickup: Pickup, instrument: Instrument, hand: Hand, asked: TakeHints) -> KeptDrill:
    """The drill of what was played; ``name`` is the take's, for errors.

    :class:`SourceError` when there is no chord in it, or when there are more than a drill can use; it says what was
    heard instead, or which parts there are.
    """
    heard, unclear, cleaned, harmony = _heard(take, pickup, instrument, hand, asked)
    if not heard:
        raise SourceError(nothing_words(name, unclear))
    parts = _chosen(heard, asked, name)
    unclear = [one for one in unclear if _is_within(one, parts, heard)]
    with_clicks = all(part.click is not None for part in parts)
    chords = tuple(tuple(part.chords) for part in parts)
    beats = _beats(parts, take.header, asked)
    symbols = [symbols_of(part, harmony) for part in chords]
    unclear += [*_nameless(chords, symbols), *_odd_ones_out(chords)]
    unclear.sort(key=lambda one: one.from_s)
    remarks = [
        _found_words(beats, with_clicks, take.header, asked),
        *cleaned_words(cleaned),
        *unclear_words(unclear),
    ]
    sketch = sketch_of_played(chords, symbols, beats, title=asked.title, key=asked.key)
    return KeptDrill(
        replace(sketch, remarks=tuple(remarks)), tuple(unclear), asked.tempo is None and not with_clicks, chords, beats
    )


def _heard(
    take: AnyTake, pickup: Pickup, instrument: Instrument, hand: Hand, asked: TakeHints
) -> tuple[list[_Part], list[Unclear], Counter[str], list[HarmonyChord]]:
    """All parts of a take: what was played between pauses, and where there was no click between silences; with what
    was unclear, the pickup's errors, and the harmony of it all."""
    parts: list[_Part] = []
    unclear: list[Unclear] = []
    cleaned: Counter[str] = Counter()
    harmony: list[HarmonyChord] = []
    for messages, click in _segments(take, asked):
        transcript = transcribed(messages, pickup)
        chords, strange = as_playable(transcript.chords, instrument, hand)
        unclear += [*transcript.unclear, *strange]
        cleaned.update(transcript.cleaned)
        harmony += transcript.harmony
        if click is not None and asked.tempo is None:
            parts += [_Part(chords, click)] if chords else []
        else:
            parts += [_Part(some, None) for some in _between_silences(chords)]
    return parts, unclear, cleaned, harmony


def _segments(take: AnyTake, asked: TakeHints) -> list[tuple[list[Message], Click | None]]:
    """The messages between the marks that stop and begin something, with the click that ran."""
    header = take.header
    click: Click | None = None
    if header is not None and header.pace == CLICK and header.first_beat_s is not None and header.tempo > 0:
        click = Click(header.first_beat_s, header.tempo)
    found: list[tuple[list[Message], Click | None]] = [([], click)]
    paused = False
    for entry in in_order(take):
        if isinstance(entry, Mark):
            if goes_on(entry):
                anchor = click_of(entry)
                found.append(([], None if anchor is None else Click(anchor.time_s, anchor.tempo)))
            paused = entry.word == PAUSE or (paused and not goes_on(entry))
        elif not paused and asked.from_s <= entry.time_s < asked.to_s:
            found[-1][0].append(entry)
    return [segment for segment in found if segment[0]]


def _between_silences(chords: Sequence[PlayedChord]) -> list[list[PlayedChord]]:
    """Chords parted where nobody played any for a while."""
    if not chords:
        return []
    gaps = [now.onset_s - before.onset_s for before, now in pairwise(chords)]
    # The shorter half says how long chords usually are: a silence is none of them.
    usual_s = median(sorted(gaps)[: (len(gaps) + 1) // 2]) if gaps else inf
    long_s = max(2 * SILENCE_S, _SILENT_CHORDS * usual_s)
    found = [[chords[0]]]
    for before, now, gap_s in zip(chords, chords[1:], gaps, strict=False):
        if gap_s > long_s and now.onset_s - before.end_s > SILENCE_S:
            found.append([])
        found[-1].append(now)
    return found


def _chosen(parts: list[_Part], asked: TakeHints, name: str) -> list[_Part]:
    """The parts that were asked for."""
    if asked.last_part:
        parts = parts[-1:]
    if asked.part is not None:
        if not 1 <= asked.part <= len(parts):
            raise SourceError(f"{name} has no part {asked.part}; {part_list([part.chords for part in parts])}")
        parts = [parts[asked.part - 1]]
    count = sum(len(part.chords) for part in parts)
    if count > MOST_CHORDS:
        several = part_list([part.chords for part in parts]) if len(parts) > 1 else ""
        raise SourceError(
            f"{name} holds {count:,} chords, and a drill at most {MOST_CHORDS}; say from when to when, as in "
            f"--from 1:20 --to 2:05{several and f', or which part, as in --part 1: {several}'}"
        )
    return parts


def _is_within(one: Unclear, chosen: Sequence[_Part], parts: Sequence[_Part]) -> bool:
    """Whether something was heard in the parts that were chosen, or between them and their neighbours."""
    first, last = parts.index(chosen[0]), parts.index(chosen[-1])
    after_s = parts[first - 1].chords[-1].end_s if first else -inf
    before_s = parts[last + 1].chords[0].onset_s if last + 1 < len(parts) else inf
    return after_s <= one.from_s < before_s


def _beats(parts: Sequence[_Part], header: TakeHeader | None, asked: TakeHints) -> Beats:
    known = asked.meter or (read_meter(header.meter) if header is not None else None)
    clicks = [(part.click, [chord.onset_s for chord in part.chords]) for part in parts]
    if all(click is not None for click, _ in clicks):
        return with_click([(click, onsets) for click, onsets in clicks if click is not None], known)
    near = header.tempo if header is not None and known is not None and 20 <= header.tempo <= 400 else None
    return without_click([_strokes(part.chords) for part in parts], tempo=asked.tempo, meter=known, near=near)


def _strokes(chords: Sequence[PlayedChord]) -> list[Struck]:
    found: list[Struck] = []
    for chord in chords:
        for place, time_s in enumerate(chord.strokes):
            if not place or time_s - found[-1].time_s > _ONE_STRUM_S:
                found.append(Struck(time_s, begins=not place))
    return found


def _nameless(parts: Sequence[Sequence[PlayedChord]], symbols: Sequence[Sequence[str | None]]) -> list[Unclear]:
    """Chords without a name, equal ones once."""
    found: dict[tuple[PlayedNote, ...], PlayedChord] = {}
    for part, names_of in zip(parts, symbols, strict=True):
        for chord, symbol in zip(part, names_of, strict=True):
            if symbol is None:
                found.setdefault(chord.notes, chord)
    return [
        Unclear(chord.onset_s, chord.end_s, chord.pitches, f"{names(chord.notes)} has no name; it is written {UNNAMED}")
        for chord in found.values()
    ]


def _odd_ones_out(parts: Sequence[Sequence[PlayedChord]]) -> list[Unclear]:
    """Chords in whose place, between the same neighbours, another time one note more or less was played: the seldom
    ones, and of equally many those with fewer notes, for a pickup rather loses a note."""
    rows = [
        ((before.pitches, after.pitches), chord)
        for part in parts
        for before, chord, after in zip(part, part[1:], part[2:], strict=False)
    ]
    counts: dict[tuple[Pitches, Pitches], Counter[Pitches]] = {}
    for between, chord in rows:
        counts.setdefault(between, Counter())[chord.pitches] += 1
    found = []
    for between, chord in rows:
        often = counts[between]
        mine = often[chord.pitches], len(chord.pitches)
        for other, times in often.items():
            differs = {*other} ^ {*chord.pitches}
            if len(differs) == 1 and (times, len(other)) > mine:
                how = "with" if len(other) > len(chord.pitches) else "without"
                said = f"{names(chord.notes)}; another time it is {how} {spell(*differs)} in the same place"
                found.append(Unclear(chord.onset_s, chord.end_s, chord.pitches, said))
                break
    return found


def _found_words(beats: Beats, with_clicks: bool, header: TakeHeader | None, asked: TakeHints) -> str:
    """Where tempo and meter come from, and how to say otherwise."""
    pace = pace_words(beats.tempo, beats.meter)
    if with_clicks:
        return f"From the click: {pace}."
    if asked.tempo is not None and asked.meter is not None:
        return f"As you said: {pace}. Where the bars begin was found in the playing."
    options = [option for option, said in (("--tempo", asked.tempo), ("--meter", asked.meter)) if said is None]
    known = asked.meter is None and header is not None and read_meter(header.meter) is not None
    taken = ", as in the drill that was on" if known else ""
    return f"Found in the playing: {pace}{taken}; {' and '.join(options)} say{'s' * (len(options) == 1)} otherwise."
