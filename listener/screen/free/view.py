"""Free listening on the screen: the chord that governs large and the chords that did before, then the newest voicing
with its notes, the movement and what would be smoother, and the voicings before it. Where there is room, the voicing on
the neck with the smoother one beside it, and the voices as lines.
"""

from __future__ import annotations

from typing import Final

from rich.cells import cell_len
from rich.style import Style

from listener.judging.free.free import HeardChord
from listener.screen.big import FULL_BLOCK_ROWS, big_name
from listener.screen.free.harmony import governing_name, harmony_row
from listener.screen.free.neck import LEAST_WIDTH, MOST_WIDTH, heard_neck_rows, smoother_neck_rows
from listener.screen.free.voices import heard_voice_rows, movement_row, shown_name
from listener.screen.free.words import kind_of, moved_words, smoother_words
from listener.screen.practice.frame import padded
from listener.screen.practice.heading import keys_row, note_rows, status_row, title_row
from listener.screen.rows import Canvas, Row, beside, canvas, row, row_width, rule, wrapped
from listener.screen.theme import BOLD, QUIET, TOP_NOTE, Theme
from listener.session.take.state import Snapshot

#: Rows of the large name.
_NAME_ROWS: Final = 7
#: From here on a neck stands beside the name; the smallest that name and words then get.
_NECK_WIDTH: Final = 100
_NECK_HEIGHT: Final = 28
_WORDS_WIDTH: Final = 44
#: The most rows under a name with a neck beside it: the chords before, kind, notes, movement, and three of what is
#: smoother.
_WORD_ROWS: Final = 7
#: Chords before the newest that are shown before the voices get room.
_LEAST_BEFORE: Final = 4
#: The fewest voices that make a picture.
_LEAST_VOICES: Final = 3


def free_view(snapshot: Snapshot, width: int, height: int, theme: Theme) -> Canvas:
    """The whole screen, exactly ``width`` x ``height`` cells. What stands where follows from the size alone, so that
    nothing moves while one plays."""
    chords = snapshot.chords or ()
    rows = [title_row(snapshot, width, theme), status_row(snapshot, width, theme)]
    foot = [*note_rows(snapshot, width, theme), keys_row(snapshot, theme)]
    room = height - len(foot)
    if not chords:
        rows += [rule("heard", width, theme), row("nothing yet: play a chord, and it gets its name")]
        rows += [row("what you like you can keep: k makes a drill of the passage you just played")]
    else:
        with_neck = width >= _NECK_WIDTH and height >= _NECK_HEIGHT
        rows += _with_neck(snapshot, chords[-1], width, height, theme) if with_neck else _alone(snapshot, width, theme)
        rows += _voices(chords, width, min(room - len(rows) - _LEAST_BEFORE - 1, snapshot.plan.string_count + 2), theme)
        rows += [rule("before", width, theme)]
        rows += [_earlier(chord, width, theme) for chord in reversed(chords[-height:-1])]
    return canvas([*padded(rows[:room], room), *foot], width, height, theme)


def _alone(snapshot: Snapshot, width: int, theme: Theme) -> list[Row]:
    """The newest chord over the whole width, always on as many rows."""
    name = big_name(governing_name(snapshot, theme), width - 1, _NAME_ROWS, theme)
    words = padded(_words(snapshot, width, 2, theme), 4)
    return [rule("heard", width, theme), *name, harmony_row(snapshot, width, theme), *words]


def _with_neck(snapshot: Snapshot, chord: HeardChord, width: int, height: int, theme: Theme) -> list[Row]:
    """The newest chord, where it lies on the neck, and the smoother one beside it where the width is enough."""
    plan = snapshot.plan
    strings = plan.string_count
    roomy = height >= 2 * strings + strings + 2 + 2 * _LEAST_BEFORE + 6
    panel = 2 * strings if roomy else max(strings + 1, _WORD_ROWS + FULL_BLOCK_ROWS)
    necks = min(2, (width - _WORDS_WIDTH) // LEAST_WIDTH)
    each = min(MOST_WIDTH + 2, (width - _WORDS_WIDTH) // necks)
    left = width - each * necks
    name = big_name(governing_name(snapshot, theme), left - 2, panel - _WORD_ROWS, theme)
    line = harmony_row(snapshot, left - 1, theme)
    heads = [([rule("heard", left - 1, theme)], left), ([rule("one place for it", each - 1, theme)], each)]
    neck = heard_neck_rows(chord, plan, each - 2, theme, roomy=roomy)
    parts = [([*name, line, *_words(snapshot, left - 1, 3, theme)], left), (neck, each)]
    if necks > 1:
        heads[1:] = [*heads[1:], ([rule("smoother", each, theme)], each)]
        parts.append((smoother_neck_rows(chord, plan, each - 1, theme, roomy=roomy), each))
    return [*beside(heads, 1, theme), *beside(parts, panel, theme)]


def _words(snapshot: Snapshot, width: int, most: int, theme: Theme) -> list[Row]:
    """The newest voicing: its name where another one governs, its kind, notes, movement, and on at most so many lines
    what would be smoother."""
    chord = (snapshot.chords or ())[-1]
    own = shown_name(chord, theme)
    named = f"{own}: " if chord.chord is not None and own != governing_name(snapshot, theme) else ""
    kind, notes = named + theme.words(kind_of(chord)), _notes(chord, theme)
    whole = row((kind, BOLD), *notes)
    rows = [whole] if row_width(whole) < width else [row((kind, BOLD)), row(*notes)]
    rows.append(row(moved_words(chord.movement)) if chord.movement is not None else [])
    words = theme.words(smoother_words(chord.smoother)) if chord.smoother is not None else ""
    return [*rows, *(row((line, BOLD)) for line in wrapped(words, width - 1, most, theme))]


def _voices(chords: tuple[HeardChord, ...], width: int, height: int, theme: Theme) -> list[Row]:
    """The voices as lines with the movement below them; nothing where there is no room for them."""
    if height < _LEAST_VOICES + 2:
        return []
    return [*heard_voice_rows(chords, width, height - 1, theme), movement_row(chords, width, theme)]


def _earlier(chord: HeardChord, width: int, theme: Theme) -> Row:
    moved = chord.movement
    said = f"  moved {moved.semitones}, {moved.common} held" if moved is not None else ""
    cells = row(
        f"{shown_name(chord, theme):<9} ", (theme.words(kind_of(chord)), QUIET), *_notes(chord, theme), (said, QUIET)
    )
    if chord.smoother is None:
        return cells
    names = " ".join(chord.smoother.voicing.names)
    less = theme.words(f"; smoother {names}, moves {chord.smoother.movement.semitones}")
    return [*cells, *row((less, QUIET))] if row_width(cells) + cell_len(less) <= width else cells


def _notes(chord: HeardChord, theme: Theme) -> list[tuple[str, Style]]:
    names = [theme.words(name) for name in chord.names]
    return [(" ".join([*names[:-1], ""]), BOLD), (names[-1], TOP_NOTE)]
