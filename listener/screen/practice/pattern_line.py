"""The pattern of the chord that is due on one line, place by place; nothing of it moves but the brackets around one."""

from __future__ import annotations

from collections.abc import Sequence

from listener.music.pattern import ACCENT, DOWN, RINGS, UP, Place
from listener.screen.rows import Row, merged, row_width
from listener.screen.theme import BOLD, NOW, PLAIN, Theme
from listener.session.take.state import Snapshot


def place_sign(place: Place, theme: Theme) -> str:
    """A place as it is drawn: an arrow (or d, u) for a strum, the voices of a pick, a dot where it rings on."""
    signs = theme.signs
    drawn = {DOWN: signs.strum_down, UP: signs.strum_up}.get(place.strum, place.sign)
    drawn = signs.dot if drawn == RINGS else drawn
    return f"{ACCENT}{drawn}" if place.accent else drawn


def pattern_row(snapshot: Snapshot, room: int, theme: Theme) -> Row:
    """The pattern of the step that is due on at most ``room`` cells, empty where there is none.

    With the click the place that is due stands in brackets. Where there is no room for blanks between the places they
    are left out; where that is not enough the pattern is shown part by part.
    """
    pattern = snapshot.target.step.pattern if snapshot.target is not None else None
    if pattern is None:
        return []
    signs = [place_sign(place, theme) for place in pattern.places]
    for between in (" ", ""):
        drawn = _drawn(signs, snapshot.place, between)
        if row_width(drawn) <= room:
            return drawn
    return _part(signs, snapshot.place, room, theme)


def _drawn(signs: Sequence[str], now: int | None, between: str) -> Row:
    """All places with something between each two, which gives way to the brackets around the present one."""
    cells = []
    for index, sign in enumerate(signs):
        if index == now:
            cells.append((f"[{sign}]", NOW))
            continue
        cells += [("" if index - 1 == now else between, PLAIN), (sign, BOLD if sign.startswith(ACCENT) else PLAIN)]
    return merged([*cells, ("" if now == len(signs) - 1 else between, PLAIN)])


def _part(signs: Sequence[str], now: int | None, room: int, theme: Theme) -> Row:
    """As many places as every part has room for; signs at its ends say that there are more."""
    more = theme.signs.more
    for size in range(len(signs) - 1, 0, -1):
        parts = [list(signs[first : first + size]) for first in range(0, len(signs), size)]
        parts = [[more] * (index > 0) + part + [more] * (part is not parts[-1]) for index, part in enumerate(parts)]
        drawn = [_drawn(part, None, " ") for part in parts]
        if max(map(row_width, drawn)) <= room:
            which, place = divmod(now or 0, size)
            return _drawn(parts[which], None if now is None else place + (which > 0), " ")
    return []
