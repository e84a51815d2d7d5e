"""Through which keys a passage goes: a list of keys, or a round of them by name."""

from __future__ import annotations

from typing import Final

from listener.drill.reading.fields import Table, one_of
from listener.errors import MusicError
from listener.music.pitch import parse_tone
from listener.music.scale import Key, parse_key, usual_tonic
from listener.records import shown

#: For a passage that stays where it is although the drill goes through keys.
OWN_KEY: Final = "own key"
#: Rounds by name: semitones from each key to the next. A round ends where it would come home again.
ROUNDS: Final = {
    "round of fourths": 5,
    "round of fifths": 7,
    "chromatic up": 1,
    "chromatic down": -1,
    "up in whole tones": 2,
    "up in minor thirds": 3,
    "up in major thirds": 4,
}
_MOST_KEYS: Final = 48
_EXAMPLE: Final = '["C major", "F major"]'


def round_of_keys(home: Key, semitones: int) -> tuple[Key, ...]:
    """The keys from home on, each so many semitones from the one before, until home would come again."""
    keys = [home]
    while (pitch_class := (home.tonic.pitch_class + len(keys) * semitones) % 12) != home.tonic.pitch_class:
        keys.append(Key(usual_tonic(pitch_class, home.mode), home.mode))
    return tuple(keys)


def read_keys(table: Table, home: Key | None) -> tuple[Key, ...] | None:
    """The field ``keys`` for a passage in the key ``home``; None when it stays in its own. Faults are reported."""
    value = table.values.get("keys")
    if value is None or value == OWN_KEY or home is None:
        return None
    if isinstance(value, str):
        if value in ROUNDS:
            return round_of_keys(home, ROUNDS[value])
        table.wrong("keys", f"must be {one_of((*ROUNDS, OWN_KEY))}, or a list such as {_EXAMPLE}, not {shown(value)}")
        return None
    if not isinstance(value, list) or not 1 <= len(value) <= _MOST_KEYS:
        what = f"a list of {len(value)}" if isinstance(value, list) and value else shown(value)
        table.wrong("keys", f"must be a list of 1 to {_MOST_KEYS} keys such as {_EXAMPLE}, not {what}")
        return None
    keys = [_key(table, index, entry, home) for index, entry in enumerate(value)]
    found = [key for key in keys if key is not None]
    return tuple(found) if len(found) == len(keys) else None


def _key(table: Table, index: int, entry: object, home: Key) -> Key | None:
    """One key of the list; a tonic alone is of the passage's own mode."""
    place = (*table.place("keys"), index)
    if not isinstance(entry, str):
        table.report.add(place, f"'keys' holds {shown(entry)}; each entry is a key such as {str(home)!r}")
        return None
    try:
        return Key(parse_tone(entry), home.mode)
    except MusicError:
        pass
    try:
        key = parse_key(entry)
    except MusicError as error:
        table.report.add(place, f"'keys': {error}")
        return None
    if key.mode != home.mode:
        table.report.add(place, f"'keys' holds {key}, but the passage is in {home}; its keys are {home.mode}, too")
        return None
    return key
