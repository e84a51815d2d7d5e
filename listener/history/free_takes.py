"""Kept takes of free playing are listened to once, for the vocabulary: when they end, and those of before bit by bit.

Nothing was judged in them, so nothing of them lies in the history but their file. An hour of dense strumming takes a
second or so; years of it are shared out over many openings, the newest first.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from typing import Final

from listener.errors import WidehandError
from listener.hearing.take_file import read_take
from listener.history import reading
from listener.history.backend import Backend
from listener.history.rejudging import pickup_of
from listener.history.rows import KeptTake
from listener.history.vocabulary_rows import IS_FREE, Place, of_free, put
from listener.judging.stood import stood_in

#: Bytes of takes that are listened to at one opening: about an hour of dense strumming, measured 1.5 s. At least one.
AT_ONCE: Final = 500_000

_UNHEARD: Final = f"""
    SELECT id FROM take WHERE reviewed = 0 AND finished_at IS NOT NULL AND {IS_FREE}
    ORDER BY finished_at DESC, id DESC
"""
_DONE: Final = "UPDATE take SET reviewed = 1 WHERE id = :take AND reviewed = 0 RETURNING id"


def hear_free_takes(backend: Backend, *, everything: bool = False) -> None:
    """Listen to free takes that nobody has listened to yet: ``everything``, or as much as an opening may take.

    What cannot be read any more, or is not what was kept, has no chords.
    """
    with backend.reading() as db:
        takes = [take for (take,) in db.rows(_UNHEARD)]
    heard = 0
    for take in takes:
        with backend.reading() as db:
            kept = reading.take(db, take)
        data = _data(backend, kept) if kept is not None else b""
        places = _places(kept, data) if kept is not None and data else Counter[Place]()
        with backend.writing() as db:
            if db.rows(_DONE, take=take):  # another program may have been quicker
                put(db, [(take, places)])
        heard += len(data)
        if heard >= AT_ONCE and not everything:
            return


def _data(backend: Backend, kept: KeptTake) -> bytes:
    """The take's file; nothing where it cannot be read or has changed."""
    if kept.file is None:
        return b""
    try:
        data = backend.read_file(kept.id, kept.file) or b""
    except OSError:
        return b""
    return data if kept.sha256 in (None, hashlib.sha256(data).hexdigest()) else b""


def _places(kept: KeptTake, data: bytes) -> Counter[Place]:
    try:
        return of_free(stood_in(read_take(data, "the take"), pickup_of(kept.info)))
    except WidehandError:
        return Counter()
