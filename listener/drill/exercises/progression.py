"""A progression: chord symbols or Roman numerals in bars, with or without a melody from a file on top."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from listener.drill.drill import NoteWish
from listener.drill.exercises.chords import NOTATIONS, Changes, ChordOfChanges, read_changes
from listener.drill.exercises.spots import PassageFrame, Round, Spot
from listener.drill.reading.fields import Table
from listener.drill.reading.fixed_notes import ANY_NOTES, NOTES, FixedNotes, read_notes
from listener.drill.reading.wish_fields import WishFields
from listener.errors import SourceError
from listener.plain_words import counted
from listener.records import is_whole, shown
from listener.tunes.tune import Melody, over_chords

MOST_TIMES: Final = 100
#: What says otherwise which notes lie on top and at the bottom, and which there are at all.
_LINES: Final = ("top", "bottom")
_SPACING: Final = ("kind", "inversion", "without", "voices")
FIELDS: Final = ("chords", "numerals", "times", "melody", "melody_part", "revoice", NOTES)


def progression(table: Table, fields: WishFields, frame: PassageFrame) -> Round:
    """Read a progression; with ``melody`` every note of it is a step of its own."""
    times = table.whole("times", 1, MOST_TIMES) or 1
    notes = read_notes(table)
    melody = _melody(table, frame) if table.has("melody") else None
    if table.has("melody_part") and not table.has("melody"):
        table.wrong("melody_part", "goes with 'melody', which is not there")
    if table.has("revoice") and not table.has("melody"):
        table.wrong("revoice", "goes with 'melody', which is not there")
    if melody is not None and melody.chords and not any(table.has(name) for name in NOTATIONS):
        changes = _changes_of(melody, table, frame)
    else:
        changes = read_changes(table, frame, notes if notes is not None or table.has(NOTES) else ())
    _check_notes(table, notes, changes.count)
    for plan in (fields.top, fields.bottom):
        if plan is not None:
            plan.check_length(table, changes.count)
    if melody is None:
        fixed = notes if notes is not None and len(notes) == changes.count == len(changes.chords) else None
        spots = (_spot(change, place, fixed[place] if fixed else None) for place, change in enumerate(changes.chords))
        return Round(tuple(spots), changes.bars, times)
    return Round(_under(melody, changes, table.flag("revoice", True)), changes.bars, times)


def _spot(change: ChordOfChanges, place: int, fixed: FixedNotes | None) -> Spot:
    spot = Spot(change.chord, change.start, change.length, change.line, place, fresh=place == 0)
    if fixed is None:
        return spot
    foreign = tuple(tone for tone in fixed.tones if change.chord.tone_of(tone.pitch_class) is None)
    return replace(spot, exact=fixed.midi, exact_strings=fixed.strings, spelling=foreign)


def _check_notes(table: Table, notes: Sequence[FixedNotes | None] | None, count: int) -> None:
    """Complain about notes without their chord, and about fields that say the same thing otherwise."""
    if notes is None:
        return
    if len(notes) != count:
        there = f"{counted(len(notes), 'entry', 'entries')} for {counted(count, 'chord')}"
        table.wrong(NOTES, f"has {there}; give one for each chord, '{ANY_NOTES}' where it does not matter")
    for name in ("melody", *(_LINES if any(notes) else ()), *(() if None in notes else _SPACING)):
        if table.has(name):
            table.wrong(name, f"and '{NOTES}' both say which notes are played; keep one of them")


def _melody(table: Table, frame: PassageFrame) -> Melody | None:
    """The melody of the file beside the drill, in beats of the drill, from its first full bar on."""
    from listener.tunes.melody import read_melody

    name = table.text("melody", needed_like='"tune.mid"')
    part = table.values.get("melody_part")
    chosen = str(part) if is_whole(part) else table.text("melody_part") or None
    if not name:
        return None
    if table.has("top"):
        table.wrong("top", "and 'melody' both say what lies on top; keep one of them")
    if frame.beside is None:
        table.wrong("melody", f"names a file ({shown(name)}), and this drill lies in no folder; save both side by side")
        return None
    try:
        melody = read_melody(frame.beside(name), name, part=chosen)
    except OSError as error:
        table.wrong("melody", f"cannot be opened: {shown(name)}: {error.strerror or error}")
        return None
    except SourceError as error:
        table.wrong("melody", f"cannot be used: {error}")
        return None
    for remark in melody.remarks:
        table.report.notes[f"{name}: {remark}"] = None
    if melody.meter is not None and melody.meter != (frame.bar_beats, frame.unit):
        theirs, ours = f"{melody.meter[0]}/{melody.meter[1]}", f"{frame.bar_beats}/{frame.unit}"
        table.wrong("melody", f'is in {theirs}, the drill in {ours}; write meter = "{theirs}" at the top of the drill')
    return melody.in_beats(frame.unit)


def _changes_of(melody: Melody, table: Table, frame: PassageFrame) -> Changes:
    """The chord symbols that stand in the melody's file."""
    line = table.line("melody")
    found = [
        ChordOfChanges(chord, start - melody.pickup_beats, length, line, 0)
        for start, length, chord in melody.chords
        if start >= melody.pickup_beats
    ]
    beats = melody.length_beats - melody.pickup_beats
    return Changes(tuple(found), int(-(-beats // frame.bar_beats)), len(found))


def _under(melody: Melody, changes: Changes, revoice: bool) -> tuple[Spot, ...]:
    """One spot for each melody note over each chord; the upbeat before the first full bar has no chord.

    Without ``revoice`` a chord stays as it is while it lasts, and only the tune moves over it.
    """
    first = melody.pickup_beats
    starts = [change.start + first for change in changes.chords]
    cut = over_chords([(start, c.length, c.chord) for start, c in zip(starts, changes.chords, strict=True)], melody)
    spots: list[Spot] = []
    for step in cut:
        place = bisect_right(starts, step.start_beats) - 1
        top = None if step.note is None else NoteWish(pitch=step.note.pitch)
        goes_on = bool(spots) and spots[-1].place == place and spots[-1].added_top
        spots.append(
            Spot(
                step.chord,
                step.start_beats - first,
                step.length_beats,
                changes.chords[place].line,
                place,
                top=top,
                added_top=top is not None,
                fresh=not spots,
                under=goes_on and top is not None and not revoice,
            )
        )
    return tuple(spots)
