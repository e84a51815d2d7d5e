"""Free listening on the screen: the newest chord large, below it its notes, the movement and what would be smoother,
then the chords before it."""

from __future__ import annotations

from rich.style import Style

from listener.judging.free import HeardChord
from listener.music.chord import parse_chord
from listener.screen.big import big_name
from listener.screen.free_words import kind_of, moved_words, name_of, smoother_words
from listener.screen.heading import keys_row, note_rows, status_row, title_row
from listener.screen.rows import Canvas, Row, canvas, row, rule, wrapped
from listener.screen.theme import BOLD, QUIET, TOP_NOTE, Theme
from listener.session.state import Snapshot

#: Rows of the large name with those around it, and the most that a name takes.
_NAME_ROWS = 9
_SUGGESTION_ROWS = 2


def free_view(snapshot: Snapshot, width: int, height: int, theme: Theme) -> Canvas:
    """The whole screen, exactly ``width`` x ``height`` cells."""
    chords = snapshot.chords or ()
    rows = [title_row(snapshot, width, theme), status_row(snapshot, width, theme), rule("heard", width, theme)]
    if not chords:
        rows.append(row("nothing yet: play a chord, and it gets its name"))
    else:
        rows += _newest(chords[-1], width, theme)
        rows += [[], rule("before", width, theme)]
        rows += [_earlier(chord, theme) for chord in reversed(chords[-height:-1])]
    foot = [*note_rows(snapshot, width, theme), keys_row(snapshot, theme)]
    room = height - len(foot)
    return canvas([*rows[:room], *[[] for _ in range(room - len(rows))], *foot], width, height, theme)


def _newest(chord: HeardChord, width: int, theme: Theme) -> list[Row]:
    rows = big_name(_shown(chord, theme), width - 1, _NAME_ROWS - 2, theme)
    rows.append(row((theme.words(kind_of(chord)), BOLD), *_notes(chord, theme)))
    rows.append(row(moved_words(chord.movement)) if chord.movement is not None else [])
    words = theme.words(smoother_words(chord.smoother)) if chord.smoother is not None else ""
    lines = wrapped(words, width - 1, _SUGGESTION_ROWS, theme)
    return [*rows, *(row((line, BOLD)) for line in lines)]


def _earlier(chord: HeardChord, theme: Theme) -> Row:
    moved = chord.movement
    said = f"  moved {moved.semitones}, {moved.common} held" if moved is not None else ""
    return row(
        f"{_shown(chord, theme):<9} ", (theme.words(kind_of(chord)), QUIET), *_notes(chord, theme), (said, QUIET)
    )


def _notes(chord: HeardChord, theme: Theme) -> list[tuple[str, Style]]:
    names = [theme.words(name) for name in chord.names]
    return [(" ".join([*names[:-1], ""]), BOLD), (names[-1], TOP_NOTE)]


def _shown(chord: HeardChord, theme: Theme) -> str:
    """The chord's name in the theme's spelling."""
    return theme.words(name_of(chord)) if chord.chord is None else theme.chord(parse_chord(chord.chord))
