"""Takes of free playing and the vocabulary: nothing was judged in them, so nothing lies in the history but their file.

What stood in a take that is played now was heard meanwhile. A file is listened to where that was not so: takes of older
programs, those that were cut off or brought in, and all of them when they are judged again. An hour of dense strumming
takes a second or so, one of bent strings twenty; so years of it are shared out over many openings, the newest first.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from typing import Final

from listener.errors import WidehandError
from listener.hearing.take_file import read_take
from listener.history.rejudging import pickup_of
from listener.history.store import reading
from listener.history.store.backend import Backend
from listener.history.store.rows import KeptTake
from listener.history.vocabulary.rows import IS_FREE, of_free, put
from listener.judging.free.free import stood_in
from listener.judging.free.stood import Stood

#: Bytes of takes that are listened to at one opening: about an hour of dense strumming, measured 1.5 s. At least one
#: take; but of none that is larger than this an opening waits for.
AT_ONCE: Final = 500_000
LARGEST: Final = 1_000_000

_UNHEARD: Final = f"""
    SELECT id FROM take WHERE reviewed = 0 AND finished_at IS NOT NULL AND {IS_FREE}
    ORDER BY finished_at DESC, id DESC
"""
#: Another program may have been quicker.
_DONE: Final = f"UPDATE take SET reviewed = 1 WHERE id = :take AND reviewed = 0 AND {IS_FREE} RETURNING id"


def keep_heard(backend: Backend, take: int, stood: Iterable[Stood]) -> None:
    """Keep what stood in a take that has ended; nothing where it is kept already, or the take is not a free one."""
    with backend.writing() as db:
        if db.rows(_DONE, take=take):
            put(db, [(take, of_free(stood))])


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
        if len(data) > LARGEST and not everything:
            continue
        keep_heard(backend, take, _stood(kept, data) if kept is not None and data else ())
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


def _stood(kept: KeptTake, data: bytes) -> Sequence[Stood]:
    try:
        return stood_in(read_take(data, "the take"), pickup_of(kept.info))
    except WidehandError:
        return ()
