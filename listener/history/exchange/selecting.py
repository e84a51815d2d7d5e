"""From the history into a bundle: the takes that were asked for, each with everything needed to judge it again."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Final

from listener import __version__
from listener.drill.drill import Drill
from listener.errors import SourceError, StoreError, WidehandError
from listener.history.exchange.bundle import MOST_TAKES, Bundle, BundledDrill, BundledTake
from listener.history.exchange.packing import pack
from listener.history.exchange.unpacking import unpack
from listener.history.store.rows import KeptTake, utc_moment
from listener.history.store.store import Store
from listener.safe_text import echo

MADE_BY: Final = f"widehand {__version__}"
_REFUSED: Final = "this cannot be put into a bundle"


def selected(
    store: Store, numbers: Sequence[int], drill: str | None, since: date | None, *, every: bool
) -> tuple[KeptTake, ...]:
    """Finished takes, oldest first: those of these numbers and of this drill, since a day where it was played.

    Nothing when nothing of it is asked for. StoreError for a number that is not there, or is still being played.
    """
    if numbers:
        kept = tuple(store.take(number) for number in dict.fromkeys(numbers))
        running = next((take.id for take in kept if take.finished_at is None), None)
        if running is not None:
            raise StoreError(f"take {running} is still being played; hand it over when it is finished")
    elif drill is None and since is None and not every:
        return ()
    else:
        kept = tuple(take for take in store.takes() if take.finished_at is not None)
    kept = tuple(take for take in kept if drill is None or take.info.drill == drill)
    kept = tuple(take for take in kept if since is None or take.info.started_at.astimezone().date() >= since)
    return tuple(sorted(kept, key=lambda take: (take.info.started_at, take.id)))


def bundle_of(store: Store, kept: Sequence[KeptTake], drills: Sequence[Drill], student: str) -> Bundle:
    """The takes with their raw MIDI and verdicts, and these drills to practise."""
    if len(kept) > MOST_TAKES:
        raise StoreError(f"a bundle holds up to {MOST_TAKES:,} takes, not {len(kept):,}; narrow it down with --since")
    with store.backend.reading() as db:
        sittings = {number: utc_moment(at) for number, at in db.rows("SELECT id, started_at FROM session")}
    takes = []
    for take in kept:
        assert take.finished_at is not None  # only finished ones are selected
        takes.append(
            BundledTake(
                info=take.info,
                sitting=sittings[take.info.session],
                finished_at=take.finished_at,
                recovered=take.recovered,
                judged_by=take.judged_by,
                midi=store.take_file(take.id),
                verdicts=store.verdicts(take.id),
                touch=take.touch,
            )
        )
    texts = tuple(BundledDrill(drill.name, drill.text, True) for drill in drills)
    return Bundle(student, MADE_BY, texts, tuple(takes))


def handed_over(
    store: Store, kept: Sequence[KeptTake], drills: Sequence[Drill], student: str, *, leave_out: bool
) -> tuple[bytes, tuple[str, ...]]:
    """The bundle's file, and a line for each take that is left out because readers would refuse it, or because its MIDI
    is gone: one bad take must not keep the others back. Without ``leave_out`` such a take is an error."""
    try:
        return packed(bundle_of(store, kept, drills, student)), ()
    except WidehandError:
        if not leave_out:
            raise
    good, left = [], []
    for take in kept:
        try:
            packed(bundle_of(store, [take], (), student))
            good.append(take)
        except WidehandError as error:
            reason = str(error).removeprefix(f"{_REFUSED}: ")
            left.append(f"left out: take {take.id} of {echo(take.info.drill, 40)}: {reason}")
    if not good and not drills:
        raise SourceError(f"{_REFUSED}; {left[0]}")
    return packed(bundle_of(store, good, drills, student)), tuple(left)


def packed(bundle: Bundle) -> bytes:
    """The bundle's file, read back once: what is handed over will not be refused. SourceError when it would be."""
    data = pack(bundle)
    try:
        unpack(data, "the bundle")
    except SourceError as error:
        raise SourceError(f"{_REFUSED}: {error}") from None
    return data
