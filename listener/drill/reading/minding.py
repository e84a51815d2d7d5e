"""Which manner of playing a step has: the one that the drill names, or else the natural one of its chords."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from listener.drill.drill import Wish
from listener.drill.manners import (
    CHORD_MELODY,
    COMPING,
    EVERYDAY,
    PRICES,
    VOICE_LEADING,
    Weights,
    manner,
    manner_names,
)
from listener.drill.reading.fields import Table
from listener.music.voicing import DROP_2, DROP_2_4, DROP_3, SHELL

#: The field that names a manner, and the table of single prices.
MANNER: Final = "manner"
WEIGHTS: Final = "weights"
#: Nothing is minded a thousand times as much as a semitone.
HIGHEST_PRICE: Final = 1000
_COMPED: Final = {SHELL, DROP_2, DROP_3, DROP_2_4}


@dataclass(frozen=True, slots=True)
class Minding:
    """What a passage says about prices: a manner or None, and single prices that differ from it."""

    manner: str | None = None
    prices: tuple[tuple[str, float], ...] = ()

    def weights(self, wish: Wish, *, melody: bool, end: bool, led: bool = True) -> Weights:
        """What a step minds: ``melody`` where the tune is on top, ``end`` at the first and last chord of a passage;
        where it is not ``led``, voices need not lead to it."""
        usual = manner(self.manner or natural_manner(wish, melody))
        if not led:
            usual = replace(usual, movement=0.0, leap=0.0, bass=max(usual.bass, usual.ending))
        weights = replace(usual, **dict(self.prices))
        return replace(weights, bass=max(weights.bass, weights.ending)) if end else weights


def natural_manner(wish: Wish, melody: bool) -> str:
    """The manner in which such chords are played when nobody says otherwise."""
    if melody or wish.added_top:
        return CHORD_MELODY
    if wish.is_strummed:
        return EVERYDAY
    return COMPING if set(wish.kinds) <= _COMPED else VOICE_LEADING


def read_minding(drill: Table) -> Minding:
    """What a whole drill says."""
    return Minding(_manner(drill), tuple(_prices(drill).items()))


def in_passage(passage: Table, drill: Minding) -> Minding:
    """What a passage says: its own manner, or else that of its drill."""
    return replace(drill, manner=_manner(passage)) if passage.has(MANNER) else drill


def _manner(table: Table) -> str | None:
    return table.word(MANNER, manner_names())


def _prices(table: Table) -> Mapping[str, float]:
    """The single prices of ``[weights]``, by name."""
    prices = table.inner(WEIGHTS, "a table, written [weights]")
    if prices is None:
        return {}
    prices.check_names(PRICES, "[weights]")
    given = {name: prices.number(name, 0, HIGHEST_PRICE) for name in PRICES}
    return {name: number for name, number in given.items() if number is not None}
