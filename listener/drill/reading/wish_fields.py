"""The fields of a passage that say how its chords are voiced, as read, before any chord is known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from listener.drill.reading.fields import Table, one_of
from listener.drill.reading.top_line import LinePlan, read_line_plan
from listener.errors import MusicError
from listener.music.pitch import parse_degree
from listener.music.voicing import (
    ANY,
    DROP_2,
    DROP_2_4,
    DROP_3,
    KINDS,
    SHELL,
    SPREAD,
)
from listener.records import did_you_mean, shown

WISH_FIELDS: Final = (
    "kind",
    "top",
    "bottom",
    "inversion",
    "without",
    "voices",
    "strings",
    "frets",
    "open_strings",
)
#: Notes in a voicing of the kinds that fix it.
KIND_SIZE: Final = {SPREAD: 3, SHELL: 3, DROP_2: 4, DROP_3: 4, DROP_2_4: 4}
_KIND_WORDS: Final = (*KINDS, ANY)
_MOST_STRINGS: Final = 12
_HIGHEST_FRET: Final = 36


@dataclass(frozen=True)
class WishFields:
    """The fields as read. ``kinds`` and ``voices`` have an entry per turn (a kind's alternatives are in one turn);
    ``voices`` is empty when any number of notes will do."""

    kinds: tuple[tuple[str, ...], ...]
    top: LinePlan | None
    bottom: LinePlan | None
    inversion: int | None
    without: tuple[str, ...]
    voices: tuple[int, ...]
    strings: tuple[int, ...] | None
    frets: tuple[int, int] | None
    open_strings: bool

    def kinds_at(self, place: int) -> tuple[str, ...]:
        """The kinds that a chord may have, counted from 0 in its passage."""
        return self.kinds[place % len(self.kinds)]

    def voices_at(self, place: int) -> int | None:
        """The number of notes that a chord has to have."""
        return self.voices[place % len(self.voices)] if self.voices else None


def read_wish_fields(table: Table) -> WishFields:
    """Read the fields; what is wrong is reported and left out."""
    return WishFields(
        kinds=_kinds(table),
        top=read_line_plan(table, "top"),
        bottom=read_line_plan(table, "bottom"),
        inversion=table.whole("inversion", 0, 6),
        without=_without(table),
        voices=_voices(table),
        strings=_strings(table),
        frets=_frets(table),
        open_strings=table.flag("open_strings", True),
    )


def _kinds(table: Table) -> tuple[tuple[str, ...], ...]:
    value = table.values.get("kind", ANY)
    if not isinstance(value, str | list) or not value:
        table.wrong("kind", f"must be {one_of(_KIND_WORDS)}, or a list of them, not {shown(value)}")
        return ((ANY,),)
    turns = []
    entries = enumerate(value) if isinstance(value, list) else ((None, value),)
    for index, entry in entries:
        words = tuple(word.strip() for word in entry.split(" or ")) if isinstance(entry, str) else (entry,)
        for word in words:
            if word not in _KIND_WORDS:
                hint = did_you_mean(word, _KIND_WORDS) if isinstance(word, str) else ""
                path = table.place("kind") if index is None else (*table.place("kind"), index)
                text = f"'kind' must be {one_of(_KIND_WORDS)}, not {shown(word)}"
                table.report.add(path, f"{text}; {hint}" if hint else text)
        turns.append(words if all(word in _KIND_WORDS for word in words) else (ANY,))
    return tuple(turns)


def _voices(table: Table) -> tuple[int, ...]:
    if isinstance(table.values.get("voices"), list):
        return table.whole_list("voices", 2, _MOST_STRINGS, "[4, 5]") or ()
    voices = table.whole("voices", 2, _MOST_STRINGS)
    return () if voices is None else (voices,)


def _without(table: Table) -> tuple[str, ...]:
    value = table.values.get("without")
    entries = [value] if isinstance(value, str) else value
    if entries is None:
        return ()
    if not isinstance(entries, list) or not entries or not all(isinstance(entry, str) for entry in entries):
        table.wrong("without", f'must be a list of degrees such as ["1", "5"], not {shown(value)}')
        return ()
    return tuple(entry for entry in entries if _is_degree(table, entry))


def _is_degree(table: Table, text: str) -> bool:
    try:
        parse_degree(text)
    except MusicError as error:
        table.report.add(table.place("without"), f"'without': {error}")
        return False
    return True


def _strings(table: Table) -> tuple[int, ...] | None:
    strings = table.whole_list("strings", 1, _MOST_STRINGS, "[4, 3, 2] (1 is the highest)")
    if strings is not None and len(set(strings)) < len(strings):
        table.wrong("strings", "names a string twice")
    return strings


def _frets(table: Table) -> tuple[int, int] | None:
    frets = table.whole_list("frets", 0, _HIGHEST_FRET, "[0, 12]")
    if frets is None:
        return None
    if len(frets) != 2 or frets[0] > frets[1]:
        table.wrong("frets", "must be the lowest and the highest fret, such as [0, 12]")
        return None
    return frets[0], frets[1]
