"""What a change from one pitch set to another costs in movement, for all pairs at once.

The same alignment of voices as :func:`listener.music.movement.movement`, as arrays: rows are what was sounding, columns
what comes next. Costs are in semitones, with the price of voices that enter, leave, split or merge.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from listener.planning.routes.alignment import PitchSets, Table, filled, movement_table


def movement_costs(before: Sequence[tuple[int, ...]], after: Sequence[tuple[int, ...]]) -> Table:
    """``movement(b, a).cost`` for every pair of pitch sets (MIDI, low to high), rows ``before``, columns ``after``."""
    (rows, here), (columns, there) = PitchSets.with_places(filled(before)), PitchSets.with_places(filled(after))
    costs: Table = movement_table(rows, columns)[np.ix_(here, there)]
    return costs


def least_movement(from_pitches: Sequence[int], options: Sequence[tuple[int, ...]]) -> int | None:
    """The least movement cost from what was played to any of the options; None when there is nothing on one side.

    For equal sizes that is the total in semitones; see :func:`listener.music.movement.movement` for the rest.
    Quick enough to be asked while somebody plays, above all when ``options`` is the same tuple each time.
    """
    if not from_pitches or not options:
        return None
    start = PitchSets.of([tuple(sorted(from_pitches))])
    return int(movement_table(start, _option_sets(tuple(options))).min())


@lru_cache(maxsize=512)
def _option_sets(options: tuple[tuple[int, ...], ...]) -> PitchSets:
    return PitchSets.of([tuple(sorted(pitches)) for pitches in options if pitches])
