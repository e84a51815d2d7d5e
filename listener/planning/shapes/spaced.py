"""Which shapes of a table have the spacing of a kind of voicing."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from listener.guitar.shape_table import ShapeTable
from listener.music.voicing import CLOSE, DROP_2, DROP_2_4, DROP_3, SPREAD

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Chosen = NDArray[np.bool_]
    Pitches = NDArray[np.int16]
else:
    Chosen = Pitches = Any


def spaced(table: ShapeTable, kind: str, skipped: int = 0, added: int = 0) -> Chosen:
    """Rows of all different tones that have the spacing of a kind, all but their ``skipped`` lowest and ``added``
    highest notes. The rules are those of :func:`listener.music.voicing.spacing_of`."""
    width = {SPREAD: 3, DROP_2: 4, DROP_3: 4, DROP_2_4: 4}.get(kind)
    count = table.count - skipped - added
    if kind == CLOSE:
        last = np.maximum(table.count - 1 - added, 0)
        spans = table.pitches[np.arange(len(table)), last] - table.pitches[:, min(skipped, table.pitches.shape[1] - 1)]
        close: Chosen = (count > 1) & (spans < 12)
        return close
    if width is None:
        raise ValueError(f"'{kind}' is no spacing")
    if table.pitches.shape[1] < skipped + width:
        return np.zeros(len(table), dtype=bool)
    spaced: Chosen = (count == width) & _SPACINGS[kind](*table.pitches[:, skipped : skipped + width].T)
    return spaced


def _spread(low: Pitches, middle: Pitches, high: Pitches) -> Chosen:
    return (low < high - 12) & (high - 12 < middle) & (middle < low + 12)


def _drop_2(n1: Pitches, n2: Pitches, n3: Pitches, n4: Pitches) -> Chosen:
    return (n3 < n1 + 12) & (n1 + 12 < n4) & (n4 < n2 + 12)


def _drop_3(n1: Pitches, n2: Pitches, n3: Pitches, n4: Pitches) -> Chosen:
    return (n2 < n1 + 12) & (n1 + 12 < n3) & (n4 < n2 + 12)


def _drop_2_4(n1: Pitches, n2: Pitches, n3: Pitches, n4: Pitches) -> Chosen:
    return (n1 + 12 < n3) & (n3 < n2 + 12) & (n2 + 12 < n4) & (n4 < n1 + 24)


#: Each kind by its notes from the lowest up: the lowered voices raised again lie close.
_SPACINGS: Final[dict[str, Callable[..., Chosen]]] = {
    SPREAD: _spread,
    DROP_2: _drop_2,
    DROP_3: _drop_3,
    DROP_2_4: _drop_2_4,
}
