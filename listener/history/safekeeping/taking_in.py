"""Takes whose files say everything, brought into the history: rescued ones, and those of a history that was lost.

A take is known by the program that played it and by the moment of its start, so it comes in once, however often this is
tried, and whole where only a part of it had been kept.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Final

from listener.errors import SourceError, StoreError
from listener.history.exchange.bundle import BundledTake
from listener.history.safekeeping.rescue import clear, waiting
from listener.history.safekeeping.take_record import KeptFile, kept_file
from listener.history.skills import reviews
from listener.history.store import rows, writing
from listener.history.store.backend import Backend, Rows
from listener.history.store.folders import take_name

#: Bytes of a take's file: an hour of dense playing has a million.
MOST_BYTES: Final = 64_000_000

_SAME: Final = """
    SELECT id, finished_at, recovered, (SELECT count(*) FROM stroke WHERE take = take.id), seed
    FROM take WHERE owner = :owner AND started_at = :at AND drill = :drill
"""
_CHUNKS: Final = "SELECT messages FROM chunk WHERE take = :take"


def take_in_rescued(backend: Backend) -> tuple[str, ...]:
    """Bring in what was written elsewhere while the history could not be; gives lines for the player.

    A take that still cannot be kept stays where it is, and is said.
    """
    lines: list[str] = []
    with waiting(backend) as files:
        found: list[tuple[Path, KeptFile]] = []
        for file in files:
            try:
                found.append((file, _read(file)))
            except (OSError, SourceError) as error:
                lines.append(f"a rescued take cannot be read, and stays where it is: {error}")
        # Of one that lies twice, the fuller first.
        for file, kept in sorted(found, key=lambda pair: -len(pair[1].take.verdicts)):
            try:
                with backend.if_gone(kept.owner) as gone:
                    if not gone:
                        continue
                    number = take_in(backend, kept)
            except StoreError as error:
                lines.append(f"a rescued take waits in {file} until the history can be written: {error}")
                continue
            clear(file)
            if number is not None:
                lines.append(f"take {number} of {kept.take.info.drill} was rescued; {_now_kept(kept)}")
    return tuple(lines)


def _read(file: Path) -> KeptFile:
    if file.stat().st_size > MOST_BYTES:
        raise SourceError(f"{file} is too long for a take")
    kept = kept_file(file.read_bytes(), str(file))
    if kept is None:
        raise SourceError(f"{file} does not say whose take it is")
    return kept


def _now_kept(kept: KeptFile) -> str:
    count = len(kept.take.verdicts)
    if count < 2:
        return "its 1 stroke is kept now" if count else "it is kept now"
    return f"all its {count} strokes are kept now"


def take_in(backend: Backend, kept: KeptFile) -> int | None:
    """Keep one take whole; gives its number, None when the history has as much of it already."""
    take = kept.take
    with backend.writing() as db:
        number = _place_for(db, kept)
        if number is None:
            return None
        add_verdicts(db, number, take)
        # Until its file is written it is a take that was cut off, and would be completed from these.
        writing.add_chunk(db, number, kept.raw.messages, kept.raw.marks)
    name = backend.write_file(number, take_name(number, take.info.drill), take.midi)
    with backend.writing() as db:
        writing.finish_take(db, number, name, take.midi, take.finished_at, recovered=take.recovered, touch=take.touch)
    return number


def add_verdicts(db: Rows, number: int, take: BundledTake) -> None:
    """The verdicts that came with a take, and who gave them."""
    for place, verdict in enumerate(take.verdicts, 1):
        writing.add_stroke(db, number, verdict, place)
    if take.judged_by != take.info.program_version:
        db.rows("UPDATE take SET judged_by = :version WHERE id = :take", version=take.judged_by, take=number)


def same_take(db: Rows, kept: KeptFile) -> tuple[int, bool, int] | None:
    """The row of this take, if there is one: its number, whether it is whole, and how many strokes it has."""
    info = kept.take.info
    found = db.rows(_SAME, owner=kept.owner, at=rows.utc_text(info.started_at), drill=info.drill)
    for number, finished_at, recovered, strokes, seed in found:
        if seed == info.seed:
            return int(number), finished_at is not None and not recovered, int(strokes)
    return None


def _place_for(db: Rows, kept: KeptFile) -> int | None:
    """An emptied row for the take; None when the one that is there has as much or more."""
    same = same_take(db, kept)
    if same is None:
        return add_row(db, kept)
    number, whole, strokes = same
    mine = len(kept.take.verdicts)
    if whole or strokes > mine or (strokes == mine and kept.take.recovered and _messages(db, number, kept) <= 0):
        return None
    reviews.forget(db, [number])
    db.rows("DELETE FROM stroke WHERE take = :take", take=number)
    db.rows("DELETE FROM chunk WHERE take = :take", take=number)
    db.rows("UPDATE take SET finished_at = NULL, seal = NULL, account_seal = NULL WHERE id = :take", take=number)
    return number


def _messages(db: Rows, number: int, kept: KeptFile) -> int:
    """How many more messages the file has than an unfinished take; 0 for one that was completed from what it had."""
    packed = db.rows(_CHUNKS, take=number)
    try:
        there = sum(len(rows.unpack_messages(bytes(chunk))) for (chunk,) in packed)
    except ValueError:  # damaged: the file is all there is
        there = 0
    return len(kept.raw.messages) - there if packed else 0


def add_row(db: Rows, kept: KeptFile, number: int | None = None) -> int:
    """The take itself, in a sitting that began when its own did."""
    take = kept.take
    began = rows.utc_text(take.sitting)
    found = db.rows("SELECT id FROM session WHERE started_at = :at", at=began)
    session = int(found[0][0]) if found else writing.add_session(db, take.sitting)
    return writing.add_take(db, replace(take.info, session=session), kept.owner, number)
