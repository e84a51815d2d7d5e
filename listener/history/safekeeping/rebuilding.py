"""A history made again from its takes' files, which say everything about themselves.

Takes that the history has are left alone; those that it does not know come in under the number in their file's name.
Files of older programs say what was played on but not what was planned: they are judged again by today's drill.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

from listener.drill.drill_file import load_drill
from listener.drill.manners import Taste
from listener.errors import SourceError, StoreError, WidehandError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import CLICK, TakeHeader, read_take
from listener.history.exchange.bundle import BundledTake
from listener.history.safekeeping.take_record import KeptFile, kept_file
from listener.history.safekeeping.taking_in import MOST_BYTES, add_row, add_verdicts, same_take
from listener.history.skills import reviews
from listener.history.store import writing
from listener.history.store.backend import Backend, Rows
from listener.history.store.embedded import Embedded
from listener.history.store.folders import TAKES, take_files, take_name
from listener.history.store.rows import TakeInfo
from listener.judging.take import TakeJudge
from listener.plain_words import counted
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill

_NUMBER: Final = re.compile(r"(\d{4,9})-")
_KNOWN: Final = "SELECT id, drill, file FROM take"
#: Takes that are written together.
_AT_ONCE: Final = 100
_SOURCE: Final = "made again from its file"


@dataclass(frozen=True)
class Rebuilt:
    """What came in: takes, and the verdicts on them. ``troubles`` name the files that could not, and why."""

    takes: int = 0
    verdicts: int = 0
    troubles: tuple[str, ...] = ()

    def as_json(self) -> dict[str, object]:
        """As it stands in the command's report."""
        return {"takes": self.takes, "verdicts": self.verdicts, "troubles": list(self.troubles)}


def unknown_takes(backend: Backend) -> tuple[Path, ...]:
    """The files of takes beside a history that it does not have, by their names."""
    if not isinstance(backend, Embedded):
        return ()  # a server keeps them itself
    files = take_files(backend.path)
    if not files:
        return ()
    with backend.reading() as db:
        # One without a file has not ended yet; what lies under its name is its own.
        known = {
            f"{take_name(number, drill)}.mid" if file is None else Path(file).name
            for number, drill, file in db.rows(_KNOWN)
        }
    return tuple(file for file in files if file.name not in known)


def told(backend: Backend) -> tuple[str, ...]:
    """A line for the player when takes lie beside the history that it does not have."""
    # Of other names are MIDI files that somebody put there.
    count = sum(bool(_NUMBER.match(file.name)) for file in unknown_takes(backend))
    if not count:
        return ()
    lie, them = counted(count, "take lies", "takes lie"), "it" if count == 1 else "them"
    return (f"{lie} beside {backend.place} and not in it; take {them} in with: widehand rejudge --rebuild",)


def rebuild(backend: Backend) -> Rebuilt:
    """Take in every take beside the history that it does not have; what cannot be read is left where it is."""
    if not isinstance(backend, Embedded):
        raise StoreError(f"{backend.place} keeps its takes itself; there are no files to make it again from")
    reader = _Reader()
    takes = verdicts = 0
    files = unknown_takes(backend)
    for start in range(0, len(files), _AT_ONCE):
        found = list(reader.read(files[start : start + _AT_ONCE]))
        with backend.writing() as db:
            for file, kept in found:
                if _keep(db, file, kept):
                    takes += 1
                    verdicts += len(kept.take.verdicts)
    reviews.bring_up_to_date(backend)
    return Rebuilt(takes, verdicts, tuple(reader.troubles))


def after_damage(backend: Backend) -> tuple[str, ...]:
    """What a damaged history has lost comes from its takes' files; gives lines for the player."""
    rebuilt = rebuild(backend)
    troubles = [f"left where it is: {trouble}" for trouble in rebuilt.troubles]
    if not rebuilt.takes:
        return tuple(troubles)
    takes, strokes = counted(rebuilt.takes, "take"), counted(rebuilt.verdicts, "stroke")
    return (f"{takes} with {strokes} came whole from their files", *troubles)


def _keep(db: Rows, file: Path, kept: KeptFile) -> bool:
    """False for a take that is there under another name."""
    if same_take(db, kept) is not None:
        return False
    match = _NUMBER.match(file.name)
    wanted = int(match[1]) if match else 0
    is_free = wanted > 0 and not db.rows("SELECT 1 FROM take WHERE id = :take", take=wanted)
    number = add_row(db, kept, wanted if is_free else None)
    take = kept.take
    add_verdicts(db, number, take)
    name = f"{TAKES}/{file.name}"
    writing.finish_take(db, number, name, take.midi, take.finished_at, recovered=take.recovered, touch=take.touch)
    return True


class _Reader:
    """Reads takes' files; the drill that many older ones share is planned once."""

    def __init__(self) -> None:
        self.troubles: list[str] = []
        self._plans: dict[tuple[object, ...], Plan] = {}

    def read(self, files: tuple[Path, ...]) -> Iterator[tuple[Path, KeptFile]]:
        """Those that can be; the others go to the troubles."""
        for file in files:
            try:
                if not file.is_file() or file.stat().st_size > MOST_BYTES:
                    raise SourceError(f"{file.name} is not a file, or too long for a take")
                data = file.read_bytes()
                kept = kept_file(data, file.name)
                yield file, kept if kept is not None else self._judged(file, data)
            except OSError as error:
                self.troubles.append(f"{file.name} cannot be read ({(error.strerror or str(error)).lower()})")
            except WidehandError as error:
                text = " ".join(str(error).split())
                self.troubles.append(text if text.startswith(file.name) else f"{file.name}: {text}")

    def _judged(self, file: Path, data: bytes) -> KeptFile:
        """A take without a record."""
        raw = read_take(data, file.name)
        header = raw.header
        if header is None:
            raise SourceError(f"{file.name} is a MIDI file from elsewhere; judge it with: widehand hear")
        plan = self._plan(header, file.name)
        lasted = timedelta(seconds=max((message.time_s for message in raw.messages), default=0.0))
        started_at = _moment(header.started) or datetime.fromtimestamp(file.stat().st_mtime, UTC) - lasted
        info = TakeInfo.of(
            plan,
            session=0,
            pickup=header.pickup,
            pace=header.pace,
            source=_SOURCE,
            started_at=started_at,
            tempo=header.tempo if header.pace == CLICK else None,
            first_beat_s=header.first_beat_s,
            header=header,
        )
        judge = TakeJudge(plan, make_pickup(header.pickup))
        verdicts = tuple(judge.hear(raw))
        take = BundledTake(
            info=replace(info, program_version=header.made_by.removeprefix("widehand ") or info.program_version),
            sitting=started_at,
            finished_at=started_at + lasted,
            recovered=False,
            judged_by=info.program_version,
            midi=data,
            verdicts=verdicts,
            touch=judge.touch.account,
        )
        return KeptFile(take, raw, hashlib.sha256(data).hexdigest()[:16])

    def _plan(self, header: TakeHeader, name: str) -> Plan:
        taste = (header.register, header.high_open)
        guitar = (header.tuning, header.frets, header.capo, header.scale_mm, header.left_handed)
        key = (header.drill, header.hand, *guitar, *taste)
        if key not in self._plans:
            instrument = make_instrument(
                header.tuning,
                fret_count=header.frets,
                capo=header.capo,
                scale_mm=header.scale_mm,
                left_handed=header.left_handed,
            )
            try:
                drill = load_drill(header.drill).to_taste(Taste(header.register, header.high_open))
            except WidehandError as error:
                raise StoreError(f"{name} does not hold its drill, and {error}") from None
            self._plans[key] = plan_drill(drill, instrument, make_hand(header.hand))
        return self._plans[key]


def _moment(text: str) -> datetime | None:
    """When a take says that it began; None when it does not, or not with its zone."""
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return None
    return None if found.tzinfo is None else found.astimezone(UTC)
