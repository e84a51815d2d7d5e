"""What every sign on the screen means, and what every key does: one page, on the key ``?``."""

from __future__ import annotations

from typing import Final

from listener.screen.practice.heading import KEYS, key_names
from listener.screen.rows import Canvas, Row, canvas, cut, row, rule
from listener.screen.theme import BOLD, PLAIN, QUIET, Theme

#: Cells for the sign, and for the keys.
_SIGN = 13


def legend_view(width: int, height: int, theme: Theme) -> Canvas:
    """Signs and keys beneath each other; what has no room is left out from the end of each part."""
    signs, keys = sign_rows(theme), key_rows(theme)
    room = max(0, height - 3)
    kept = max(0, room - len(keys))
    rows: list[Row] = [rule("signs", width, theme), *_drawn(signs[:kept], width, theme)]
    rows += [rule("keys", width, theme), *_drawn(keys[: room - min(kept, len(signs))], width, theme)]
    rows = rows[: height - 1]
    rows += [[]] * (height - 1 - len(rows))
    return canvas([*rows, row((" any key goes back; the take goes on meanwhile", QUIET))], width, height, theme)


def _drawn(pairs: list[tuple[str, str]], width: int, theme: Theme) -> list[Row]:
    return [row((f" {sign:<{_SIGN}}", BOLD), (cut(said, width - _SIGN - 2, theme), PLAIN)) for sign, said in pairs]


def sign_rows(theme: Theme) -> list[tuple[str, str]]:
    """Each sign and its one meaning."""
    s = theme.signs
    return [
        (f"{s.hit} {s.near} {s.miss}", 'hit, near, miss; "so far" and dots: it may still change'),
        (f"{s.here} {s.dot}", "the chord that is due, and those not played yet"),
        ("(2) [3]", "a finger on the neck, and the one on the top note"),
        ("o x", "an open string, and one that stays silent"),
        (f"{s.top} 3fr", "on small necks: the string of the top note, the first fret drawn"),
        (f"{s.rings} +G2", "a planned note that rings now, and one that rings beside the plan"),
        (f"{s.same} {s.differs}", "played as planned, and not as planned"),
        (f"{s.missing}", "what was left out, where it should have been"),
        (f"{s.line}{s.up}5 {s.line}{s.down}2", "a voice goes up 5 semitones, or down 2, to the next chord"),
        (f"{s.line * 3} {s.dot * 3}", "a voice stays where it is; there is none to go on with"),
        (f"{s.latest} {s.earlier}", "how early or late: the last stroke, and those before it"),
        (f"{s.strum_down} {s.strum_up} [{s.dot}]", "a strum down, a strum up, the place of the pattern that is due"),
    ]


#: Keys that share a row: the second of two, and what both do.
_PAIRS: Final = {
    "slower": ("faster", "the take again, slower or faster"),
    "back": ("next", "the passage before this one, or its beginning; the next one"),
}


def key_rows(theme: Theme) -> list[tuple[str, str]]:
    """Each key and what it does; two that belong together share a row."""
    second = {other for other, _ in _PAIRS.values()}
    found = []
    for action, key in KEYS.items():
        if action in _PAIRS:
            other, said = _PAIRS[action]
            found.append((f"{key_names(action, theme)} {key_names(other, theme)}", said))
        elif action not in second:
            found.append((key_names(action, theme), key.meaning))
    return found
