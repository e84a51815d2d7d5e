"""What was played and what is wrong with it: the most useful fault in a sentence, the verdict, the notes.

The verdict is a bar as long as the chord was right: a hit fills the panel, a near half of it, a miss is only its words;
with the sign and the word it says the same thing three times, so it can be read from the corner of the eye and without
colour.

What may still change is said quietly: dim, and "so far". A hit is shown at once as ever; dots say that it may change.
When it does, the rows are simply others.
"""

from __future__ import annotations

from typing import Final

from rich.segment import Segment
from rich.style import Style

from listener.judging.fill import Fill
from listener.judging.pattern.pattern import PatternVerdict
from listener.judging.touch.words import TouchVerdict
from listener.judging.verdict import HIT, NEAR, Verdict
from listener.plain_words import counted
from listener.screen.big import big_name
from listener.screen.rows import Row, cut, ends, row, row_width, wrapped
from listener.screen.theme import BOLD, NOT_SURE, NOW, PLAIN, QUIET, REVERSED, TOP_NOTE, Theme
from listener.screen.words import heard_name, offset_words, roll_words, step_of
from listener.session.take.state import COUNT_IN, FINISHED, PAUSED, Snapshot

SHOWN_FAULTS: Final = 2
#: Cells for a chord's name in the list of earlier verdicts.
_NAME: Final = 10


def heard_rows(snapshot: Snapshot, width: int, height: int, theme: Theme) -> list[Row]:
    """The newest verdict in full; before there is one, what to do."""
    if snapshot.phase == COUNT_IN and snapshot.beat:
        beats = f"{snapshot.beat} of {max(snapshot.plan.drill.meter[0], snapshot.beat)}"
        number = big_name(str(snapshot.beat), width, max(1, height - 1), theme)
        return [*number, row((f"count-in, beat {beats}", BOLD))]
    verdict = snapshot.verdict
    if verdict is None:
        return [row(_waiting(snapshot))]
    rows = fault_rows(verdict, width, height - 2, theme)
    rows.append(verdict_row(snapshot, verdict, width, theme))
    if verdict.heard or not verdict.faults:  # of silence its fault says all
        rows += _heard(snapshot, verdict, width, theme)
    rows += aside_rows(snapshot, width, height - len(rows), theme)
    if verdict.movement is not None and len(rows) < height:
        rows.append(row((moved_words(verdict), QUIET)))
    return rows[:height]


def _heard(snapshot: Snapshot, verdict: Verdict, width: int, theme: Theme) -> list[Row]:
    """The notes, and how long they were rolled, in one row where there is room."""
    played, rolled = played_row(snapshot, verdict, theme), row(roll_words(snapshot.plan, verdict))
    if rolled and row_width(played) + 2 + row_width(rolled) > width:
        return [played, rolled]
    return [[*played, *row("  "), *rolled] if rolled else played]


def _waiting(snapshot: Snapshot) -> str:
    if snapshot.phase == PAUSED:
        return "paused: play on, or press space" if snapshot.away else "paused: space goes on"
    if snapshot.phase == FINISHED:
        return "nothing was played"
    return "nothing yet: play when you are ready"


def verdict_row(snapshot: Snapshot, verdict: Verdict, width: int, theme: Theme) -> Row:
    """The bar: sign, word, chord, and with a click how early or late."""
    word = f" {theme.signs.grade(verdict.grade)} {verdict.grade}  "
    said = f"{word}{_chord(snapshot, verdict, theme)}{_doubt(verdict)}"
    cells = ends(row(said), row(_late(verdict)), width, theme)
    return _filled(cells, _length(verdict, width), _style(verdict, theme))


def _chord(snapshot: Snapshot, verdict: Verdict, theme: Theme) -> str:
    """The chord that was due."""
    planned = step_of(snapshot.plan, verdict)
    return theme.chord(planned.voicing.chord) if planned is not None else ""


def _doubt(verdict: Verdict) -> str:
    """A word while the verdict may still change."""
    return "" if verdict.settled else " ..." if verdict.grade == HIT else " so far"


def _style(verdict: Verdict, theme: Theme) -> Style:
    """As its grade looks; quiet while it may still change, but for a hit."""
    style = theme.grade(verdict.grade)
    return style if verdict.settled or verdict.grade == HIT else style + NOT_SURE


def _late(verdict: Verdict) -> str:
    return f" {offset_words(verdict.offset_ms)} " if verdict.offset_ms is not None else ""


def _length(verdict: Verdict, width: int) -> int:
    """How many cells of the bar are filled."""
    return {HIT: width, NEAR: width // 2}.get(verdict.grade, 0)


def _filled(cells: Row, filled: int, style: Style) -> Row:
    """The first ``filled`` cells reversed, the rest in the same colour on the plain ground."""
    total = row_width(cells)
    parts = list(Segment.divide(cells, [filled, total])) if 0 < filled < total else [cells if filled else [], cells]
    head = [Segment(part.text, style + REVERSED) for part in parts[0]]
    tail = [Segment(part.text, style) for part in parts[1]] if filled < total else []
    return [*head, *tail]


def played_row(snapshot: Snapshot, verdict: Verdict, theme: Theme) -> Row:
    """The notes that counted, low to high, the top one marked; notes that only rang on stand in brackets."""
    planned = step_of(snapshot.plan, verdict)
    cells = row(("heard ", QUIET))
    if not verdict.heard:
        return [*cells, *row("nothing")]
    for index, pitch in enumerate(verdict.heard):
        name = heard_name(pitch, planned, theme)
        shown = f"({name})" if pitch in verdict.held else name
        is_top = index == len(verdict.heard) - 1
        cells += row(" ", (shown, TOP_NOTE if is_top else BOLD))
    return cells


def fault_rows(verdict: Verdict, width: int, height: int, theme: Theme) -> list[Row]:
    """At most two faults, the most useful first; the second has what room the first leaves."""
    rows: list[Row] = []
    for index, fault in enumerate(verdict.faults[:SHOWN_FAULTS]):
        lines = wrapped(theme.words(fault.text), width - 1, height - len(rows), theme)
        rows += [row((line, BOLD if index == 0 and verdict.settled else PLAIN)) for line in lines]
    return rows


def aside_rows(snapshot: Snapshot, width: int, height: int, theme: Theme) -> list[Row]:
    """What was played over the chord that was left last, or what became of its pattern and its touch, on one row where
    it fits."""
    if not snapshot.asides or snapshot.verdict is None:
        return []
    step, aside = snapshot.asides[-1]
    now = snapshot.verdict.step
    left = next((verdict.step for verdict in reversed(snapshot.verdicts) if verdict.step != now), now)
    if isinstance(aside, Fill | TouchVerdict) and step not in (now, left):
        return []  # chords have been left since of which there was no such thing to say
    words = aside.words
    if isinstance(aside, TouchVerdict) and len(snapshot.asides) > 1:
        other, pattern = snapshot.asides[-2]
        words = (*pattern.words, *words) if other == step and isinstance(pattern, PatternVerdict) else words
    chord = theme.chord(snapshot.plan.steps[step].voicing.chord)
    said = f"{chord}: {'; '.join(words)}"
    parts = [said] if len(said) < width else [f"{chord}: {words[0]}", *words[1:]]
    rows: list[Row] = []
    for part in parts:
        rows += [row(line) for line in wrapped(part, width - 1, height - len(rows), theme)]
    return rows


def moved_words(verdict: Verdict) -> str:
    """How the voices moved to get there: ``moved 5 semitones, 2 held, score 92``."""
    moved = verdict.movement
    if moved is None:
        return ""
    score = f", score {verdict.movement_score:.0f}" if verdict.movement_score is not None else ""
    return f"moved {counted(moved.semitones, 'semitone')}, {moved.common} held{score}"


def compared_rows(snapshot: Snapshot, theme: Theme) -> list[Row]:
    """Planned and heard note of each voice side by side, from the top; for screens with room."""
    verdict = snapshot.verdict
    planned = step_of(snapshot.plan, verdict) if verdict is not None else None
    if verdict is None or planned is None or snapshot.phase == COUNT_IN:
        return []
    rows = [row(("voice     planned       heard", QUIET))]
    wanted, heard = planned.voicing.midi, verdict.heard
    for rank in range(1, len(wanted) + 1):
        name = theme.words(planned.voicing.names[-rank])
        degree = theme.words(planned.voicing.degrees[-rank])
        played = heard[-rank] if rank <= len(heard) else None
        same = wanted[-rank] in heard
        shown = name if same else heard_name(played, planned, theme) if played is not None else "-"
        sign = theme.signs.same if same else theme.signs.differs
        label = "top" if rank == 1 else "bass" if rank == len(wanted) else str(rank)
        rows.append(row((f"{label:<8}", QUIET), f"  {name:<5}{degree:<6} {sign} ", (shown, NOW if not same else BOLD)))
    return rows


def earlier_rows(snapshot: Snapshot, width: int, height: int, theme: Theme) -> list[Row]:
    """The verdicts before the newest, latest first, each on a line with what was to be said; for screens with room."""
    verdicts = snapshot.verdicts
    if verdicts and verdicts[-1] == snapshot.verdict:
        verdicts = verdicts[:-1]
    if not verdicts or height < 2:
        return []
    rows = [row(("before", QUIET))]
    for verdict in verdicts[:-height:-1]:
        said = theme.words(verdict.faults[0].text) if verdict.faults else ""
        name = cut(_chord(snapshot, verdict, theme), _NAME - 1, theme)
        sign = f"{theme.signs.grade(verdict.grade)} {name:<{_NAME}}"
        rows.append(row((sign, theme.grade(verdict.grade)), cut(said, width - _NAME - 3, theme)))
    return rows
