"""What to play now: the chord's name, its voicing in words, and its place on the neck with note names and degrees."""

from __future__ import annotations

from textwrap import wrap

from rich.cells import cell_len

from listener.drill.drill import NoteWish
from listener.guitar.instrument import string_names
from listener.plain_words import counted
from listener.planning.plan import Plan, PlannedStep
from listener.screen.big import big_height, big_name
from listener.screen.neck import apart, neck_rows, places, widest_cell
from listener.screen.plan.care_rows import wide_words
from listener.screen.practice.summary import short_lines, summary_lines
from listener.screen.rows import Part, Row, beside, row, row_width
from listener.screen.theme import BOLD, NOW, PLAIN, QUIET, TOP_NOTE, Theme
from listener.screen.words import heard_name, kind_words, lowest_words, spacing_word, top_words
from listener.session.take.state import FINISHED, Snapshot

#: Widths of the parts beside the neck: string number and name, and note with degree and signs.
_LABEL, _NOTE = 5, 14
#: In the place of the summary until all of the take is settled.
_LAST_CHORD = ("That was the last chord.", "The take is over when you stop here. If you went back, just play on.")


def name_rows(snapshot: Snapshot, width: int, height: int, theme: Theme) -> list[Row]:
    """The name as large as fits, with one to three lines of words under it; empty when the take is over."""
    planned = snapshot.target
    if planned is None:
        return []
    name = theme.chord(planned.voicing.chord)
    tall = big_height(name, width - 1, height - 1, theme)
    lines = max(1, min(3, height - tall))
    words = (
        word_rows(planned, snapshot.plan, theme) if lines > 1 else [row((_one_line(planned, width - 1, theme), BOLD))]
    )
    return [*big_name(name, width - 1, height - lines, theme), *words[:lines]]


def large_name_rows(snapshot: Snapshot, width: int, height: int, theme: Theme) -> list[Row]:
    """Name and words for large screens on at most ``height`` rows: the words under the name, or beside it where that
    is too high; empty when the take is over."""
    planned = snapshot.target
    if planned is None:
        return []
    name = theme.chord(planned.voicing.chord)
    words = word_rows(planned, snapshot.plan, theme)
    tall = big_height(name, width - 1, height, theme)
    drawn = big_name(name, width - 1, tall, theme)
    if tall + len(words) <= height:
        return [*drawn, *words]
    left = max(map(row_width, drawn)) + 3
    if left + max(map(row_width, words)) >= width:
        return name_rows(snapshot, width, height, theme)
    height = max(tall, len(words))
    above: list[Row] = [[]] * ((height - len(words)) // 2)
    return beside([(drawn, left), ([*above, *words], width - left)], height, theme)


def _one_line(planned: PlannedStep, width: int, theme: Theme) -> str:
    """Voicing and top note in as many words as fit."""
    voicing = planned.voicing
    tries = [
        f"{theme.words(kind_words(planned))}; {top_words(planned, theme)}",
        f"{theme.words(kind_words(planned))}; top {theme.words(str(voicing.top))}",
        f"{spacing_word(planned)}; {top_words(planned, theme)}",
    ]
    return next((words for words in tries if cell_len(words) <= width), tries[-1])


def word_rows(planned: PlannedStep, plan: Plan, theme: Theme) -> list[Row]:
    """Kind and inversion; top note with its degree; barre and stretch.

    Near the limit of the hand that is said before the top note, with an easier shape beside it: there may be no room
    for more.
    """
    barre = planned.fingering.barre
    hand = f"stretch {round(planned.fingering.stretch_mm)} mm"
    if barre is not None:
        hand = f"finger {barre.finger} bars strings {barre.from_string} to {barre.to_string}, {hand}"
    kind = row((spacing_word(planned), BOLD), f", {theme.words(lowest_words(planned))}")
    top = row((top_words(planned, theme), BOLD), *_asked(planned))
    wide = wide_words(planned, plan)
    return [kind, row((wide, BOLD)), top] if wide else [kind, top, row((hand, QUIET))]


def _asked(planned: PlannedStep) -> list[Part]:
    """Says so when the drill wants this note on top, so that a free choice is not taken for a duty."""
    return [(", as asked", QUIET)] if planned.step.wish.top != NoteWish() else []


def summary_rows(snapshot: Snapshot, width: int, height: int, theme: Theme, *, more: bool = False) -> list[Row]:
    """The end of the take in words, in the place of the target; ``more`` of them when asked for."""
    if snapshot.phase == FINISHED:
        said = summary_lines(snapshot) if more else short_lines(snapshot)
    else:
        said = [*_LAST_CHORD]
    lines = [line for text in said for line in wrap(theme.words(text), width - 1)]
    return [row((line, BOLD if index == 0 else PLAIN)) for index, line in enumerate(lines[:height])]


def target_height(strings: int, *, roomy: bool) -> int:
    """Rows that :func:`target_rows` needs."""
    return 2 * strings if roomy else strings + 1


def target_rows(snapshot: Snapshot, width: int, theme: Theme, *, most: int = 7, roomy: bool = False) -> list[Row]:
    """The neck with a label before each string and the note behind it; one row of fret numbers and one per string,
    on a ``roomy`` one with a row between each two strings."""
    planned = snapshot.target
    if planned is None:
        return []
    count = snapshot.plan.string_count
    cell = widest_cell(planned.fingering, width - _LABEL - _NOTE, most)
    neck = neck_rows(planned.fingering, count, theme, cell=cell, roomy=roomy)
    labels = [[], *apart(_labels(snapshot, theme), roomy)]
    notes = [_ringing_beside(snapshot, planned, theme), *apart(_notes(snapshot, planned, theme), roomy)]
    neck_cells = row_width(neck[1])
    parts = [(labels, _LABEL), (neck, neck_cells), (notes, width - _LABEL - neck_cells)]
    return beside(parts, target_height(count, roomy=roomy), theme)


def _labels(snapshot: Snapshot, theme: Theme) -> list[Row]:
    names = string_names(snapshot.plan.tuning, snapshot.plan.string_count)
    return [row((f"{index} {theme.words(name):<2} ", QUIET)) for index, name in enumerate(names, start=1)]


def _notes(snapshot: Snapshot, planned: PlannedStep, theme: Theme) -> list[Row]:
    """Note and degree on the string that plays it; a sign behind it while it rings."""
    rows = []
    for place in places(planned.fingering, snapshot.plan.string_count):
        if place.note is None:
            rows.append(row(""))
            continue
        pitch = planned.fingering.pitches[place.note]
        rank = planned.voicing.midi.index(pitch)
        name = theme.words(str(planned.voicing.pitches[rank]))
        degree = theme.words(planned.voicing.degrees[rank])
        rings = theme.signs.rings if pitch in snapshot.sounding else " "
        style = TOP_NOTE if place.is_top else BOLD
        ring = (rings, NOW if rings != " " else PLAIN)
        top = " top" if place.is_top else ""
        rows.append(row(" ", (name, style), " " * (4 - len(name)), ring, f" {degree}", (top, BOLD)))
    return rows


def _ringing_beside(snapshot: Snapshot, planned: PlannedStep, theme: Theme) -> Row:
    """Notes that ring now and are not in the target."""
    extra = [note for note in snapshot.sounding if note not in planned.voicing.midi]
    if not extra:
        return row("")
    names = " ".join(heard_name(note, planned, theme) for note in extra[:2])
    return row((f" +{names}", QUIET)) if len(extra) <= 2 else row((f" +{counted(len(extra), 'note')}", QUIET))
