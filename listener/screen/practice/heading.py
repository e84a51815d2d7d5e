"""The two lines on top: what is being practised, and where we are in it; and the two at the foot: talk and keys."""

from __future__ import annotations

from typing import Final, NamedTuple

from listener.plain_words import counted
from listener.screen.rows import Part, Row, cut, ends, row, wrapped
from listener.screen.theme import BOLD, NOW, PLAIN, QUIET, REVERSED, Theme
from listener.screen.words import pace_words
from listener.session.take.state import COUNT_IN, FINISHED, PAUSED, PLAYING, READY, Snapshot

_PHASES: Final = {
    READY: "ready when you are",
    COUNT_IN: "count-in",
    PLAYING: "listening",
    PAUSED: "PAUSED",
    FINISHED: "end of the take",
}


class KeyHelp(NamedTuple):
    """What is typed, its word in the row of keys, and what it means on the page of signs and keys."""

    letter: str
    word: str
    meaning: str


#: The key of every action.
KEYS: Final = {
    "pause": KeyHelp("space", "pause", "pause, and go on"),
    "again": KeyHelp("a", "again", "the take from its beginning"),
    "back": KeyHelp("b", "back", "the passage before this one, or this one from its beginning"),
    "next": KeyHelp("n", "next", "the next passage"),
    "slower": KeyHelp("-", "slower", "the take again, slower"),
    "faster": KeyHelp("+", "faster", "the take again, faster"),
    "target": KeyHelp("t", "hear", "hear the chord that is due (with --sound)"),
    "keep": KeyHelp("k", "keep", "without a drill: the passage you just played becomes one"),
    "more": KeyHelp("m", "more", "after a take: everything that there is to say about it"),
    "signs": KeyHelp("?", "help", "this page"),
    "quit": KeyHelp("q", "quit", "end; everything that was played is kept"),
}
#: Rows that the line of talk may take.
_NOTE_ROWS: Final = 3


def title_row(snapshot: Snapshot, width: int, theme: Theme) -> Row:
    """Drill, key and, at the right, what we listen to."""
    drill = snapshot.plan.drill
    capo = f", capo {snapshot.plan.capo}" if snapshot.plan.capo else ""
    key = f"  {drill.key}{capo}" if drill.key or capo else ""
    left = row((theme.name(drill.title or drill.name), BOLD), theme.words(key))
    source = cut(theme.name(snapshot.source), width // 2, theme)
    return ends(left, row((f"  {source}", QUIET)), width, theme)


def status_row(snapshot: Snapshot, width: int, theme: Theme) -> Row:
    """Step, bar and beat, click, tempo; the phase at the right."""
    if snapshot.chords is not None:
        place = [f"   {pace_words(snapshot)}", *_place(snapshot)] if snapshot.tempo is not None else []
        return ends(row((_heard_words(snapshot), BOLD), *place), _phase(snapshot), width, theme)
    total = len(snapshot.plan.steps)
    parts: list[Part] = [(f"step {min(snapshot.step + 1, total)} of {total}", BOLD), f"   {pace_words(snapshot)}"]
    if snapshot.tempo is not None:
        parts += _place(snapshot)
    return ends(row(*parts), _phase(snapshot), width, theme)


def _heard_words(snapshot: Snapshot) -> str:
    return f"{counted(len(snapshot.chords or ()), 'chord')} heard"


def _phase(snapshot: Snapshot) -> Row:
    phase = _PHASES.get(snapshot.phase, snapshot.phase)
    loud = snapshot.phase in (PAUSED, COUNT_IN)
    return row((f" {phase} ", REVERSED if loud else QUIET))


def _place(snapshot: Snapshot) -> list[Part]:
    """Bar and the beats of the bar, the one that sounds now standing out."""
    if not snapshot.beat:
        return []
    counting = snapshot.phase == COUNT_IN
    parts: list[Part] = ["   count-in  " if counting else f"   bar {snapshot.bar}  beat "]
    beats = max(snapshot.plan.drill.meter[0], snapshot.beat)
    for beat in range(1, beats + 1):
        parts.append((f"[{beat}]", NOW) if beat == snapshot.beat else (f" {beat} ", PLAIN))
    return parts


def note_rows(snapshot: Snapshot, width: int, theme: Theme) -> list[Row]:
    """The line of talk: a row of its own, empty when there is nothing to say. What does not fit goes on below, for a
    word of care must not be cut. Why the take has paused by itself comes first."""
    away = wrapped(theme.words(snapshot.away), width - 1, _NOTE_ROWS, theme)
    lines = [*away, *wrapped(theme.name(snapshot.note), width - 1, _NOTE_ROWS, theme)]
    return [row((line, BOLD)) for line in lines] or [[]]


def key_names(action: str, theme: Theme) -> str:
    """The keys that do it: the letter, and the arrow where the terminal can show it."""
    return " ".join(key for key in (KEYS[action].letter, dict(theme.signs.keys).get(action)) if key)


def keys_row(snapshot: Snapshot, theme: Theme) -> Row:
    """Which key does what; those that do nothing now are not shown. Of two keys for one thing the arrow is."""
    arrows = dict(theme.signs.keys)
    shown = [*snapshot.keys[:-1], *(("more",) if _has_more(snapshot) else ()), "signs", *snapshot.keys[-1:]]
    parts: list[Part] = []
    for action in shown:
        if action == "faster" and "slower" in shown:
            continue
        both = ("slower", "faster") if action == "slower" else (action,)
        keys = " ".join(arrows.get(one, KEYS[one].letter) for one in both)
        word = "go on" if action == "pause" and snapshot.phase == PAUSED else KEYS[action].word
        parts += [(f" {keys} ", REVERSED), f" {'tempo' if action == 'slower' else word}", " "]
    return row(*parts[:-1])


def _has_more(snapshot: Snapshot) -> bool:
    """Whether the end of a take has more to say than is shown at first."""
    return snapshot.phase == FINISHED and snapshot.chords is None and bool(snapshot.verdicts)
