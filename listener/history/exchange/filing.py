"""A bundle that was read and checked, kept: drills in the player's own folder, takes in a history.

What is there already is left as it is, so that importing twice changes nothing. When something cannot be written,
nothing of it stays.
"""

from __future__ import annotations

import hashlib
import os
import re
import unicodedata
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from listener.drill.drill_file import bundled_drills, load_drill
from listener.errors import DrillError, StoreError, WidehandError
from listener.hearing.take_file import read_take
from listener.history.exchange.bundle import MOST_BYTES, BundledDrill, BundledTake
from listener.history.exchange.packing import entry_name
from listener.history.safekeeping.taking_in import add_verdicts
from listener.history.store import writing
from listener.history.store.embedded import Embedded
from listener.history.store.folders import TAKES, beside, sync_folder, take_name
from listener.history.store.rows import utc_text
from listener.history.store.store import Store
from listener.places import numbered, read_file
from listener.safe_text import clean, person

NEW: Final = "new"
SAME: Final = "already there"
BESIDE: Final = "kept beside another of that name"
COURSE: Final = "part of the course"

_NOT_IN_NAMES: Final = re.compile(r'[<>:"/\\|?*\s]+')
#: Names that Windows gives to devices, whatever comes after a dot.
_DEVICES: Final = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?")


@dataclass(frozen=True)
class DrillNews:
    """What becomes of a drill: ``state`` is one of the words above, ``name`` what it is found by from now on."""

    drill: BundledDrill
    state: str
    name: str

    @property
    def writes(self) -> bool:
        """Whether a file is to be written."""
        return self.state in (NEW, BESIDE)


def drill_news(drills: Sequence[BundledDrill], folder: Path) -> tuple[DrillNews, ...]:
    """Where each drill that is handed over belongs; nothing is written. A drill of that name is never replaced."""
    found: list[DrillNews] = []
    for drill in drills:
        if drill.to_practise:
            found.append(_news(drill, folder, found))
    return tuple(found)


def _news(drill: BundledDrill, folder: Path, before: Sequence[DrillNews]) -> DrillNews:
    stem = safe_stem(drill.name)
    for name in numbered(stem):
        there = _text_of(name, folder, before)
        if there == drill.text:
            return DrillNews(drill, COURSE if name in bundled_drills() else SAME, name)
        if there is None:
            break
    return DrillNews(drill, NEW if name == stem else BESIDE, name)


def _text_of(name: str, folder: Path, before: Sequence[DrillNews]) -> str | None:
    """The text of the drill that is found by this name (upper and lower case alike), None when there is none."""
    for news in before:
        if news.writes and news.name.lower() == name.lower():
            return news.drill.text
    try:
        if name in bundled_drills():
            return load_drill(name).text
        file = next((file for file in folder.glob("*.toml") if file.stem.lower() == name.lower()), None)
        return None if file is None else read_file(file, MOST_BYTES["toml"]).decode(errors="replace")
    except (OSError, DrillError):
        return ""  # there is something, and it is another


def safe_stem(name: str) -> str:
    """A drill's name as that of a file on any system.

    >>> safe_stem("../../etc/passwd"), safe_stem("Träumerei: 2"), safe_stem("nul")
    ('etc-passwd', 'Träumerei-2', 'drill-nul')
    """
    plain = _NOT_IN_NAMES.sub("-", unicodedata.normalize("NFC", clean(name))).strip(".- ")[:60].strip(".- ")
    plain = re.sub(r"\.{2,}|-[.-]*-", "-", plain)
    return f"drill-{plain}" if not plain or _DEVICES.fullmatch(plain) else plain


def write_drills(news: Sequence[DrillNews], folder: Path) -> tuple[Path, ...]:
    """Write the new ones, whole or not at all; gives their files. StoreError when the folder cannot be written."""
    written: list[Path] = []
    wanted = [one for one in news if one.writes]
    try:
        if wanted:
            folder.mkdir(parents=True, exist_ok=True)
        for one in wanted:
            target = folder / f"{one.name}.toml"
            with target.open("xb") as file:  # never over a file that somebody has just put there
                written.append(target)
                file.write(one.drill.text.encode())
                file.flush()
                os.fsync(file.fileno())
        if wanted:
            sync_folder(folder)
    except OSError as error:
        remove(written)
        reason = error.strerror or str(error)
        raise StoreError(f"{folder} cannot be written ({reason}); name another folder with WIDEHAND_DRILLS") from None
    return tuple(written)


def remove(files: Sequence[Path]) -> None:
    """Take away what was just written."""
    for file in files:
        with suppress(OSError):
            file.unlink()


def student_place(own: Path | str | None, student: str) -> Path:
    """The history that keeps a student's takes apart from one's own: ``students/NAME-.../`` beside it.

    The digest tells apart names that look alike without their accents.
    """
    plain = person(student)
    digest = hashlib.sha256(plain.encode()).hexdigest()[:8]
    return beside(own) / "students" / f"{entry_name(plain)}-{digest}" / "history.sqlite3"


def new_takes(store: Store, takes: Sequence[BundledTake]) -> tuple[BundledTake, ...]:
    """Those that the history does not have yet."""
    statement = "SELECT id, drill, started_at, file_sha256 FROM take WHERE finished_at IS NOT NULL"
    known: dict[tuple[str, str], list[tuple[int, str]]] = {}
    with store.backend.reading() as db:
        for number, drill, at, digest in db.rows(statement):
            known.setdefault((drill, at), []).append((number, digest))
    found = [(take, known.get((take.info.drill, utc_text(take.info.started_at)), [])) for take in takes]
    return tuple(take for take, there in found if not any(_is_same(store, take, *one) for one in there))


def _is_same(store: Store, take: BundledTake, number: int, digest: str) -> bool:
    """Note for note. A take that was cut off while it was taken in has another record in its file."""
    if digest == take.sha256:
        return True
    try:
        return read_take(store.take_file(number), "") == read_take(take.midi, "")
    except WidehandError:
        return False


def keep_takes(store: Store, takes: Sequence[BundledTake], source: str = "") -> None:
    """Keep them all or none; ``source`` goes before what they say about where they came from.

    Until their files are written they are as takes that run in this program: should it be ended in between, they are
    completed from their messages when the history is opened next.
    """
    if not takes:
        return
    numbers, sittings = _add_rows(store, takes, source)
    there = _files(store)
    try:
        names = [
            store.backend.write_file(number, take_name(number, take.info.drill), take.midi)
            for number, take in zip(numbers, takes, strict=True)
        ]
        with store.backend.writing() as db:
            for number, name, take in zip(numbers, names, takes, strict=True):
                writing.finish_take(
                    db, number, name, take.midi, take.finished_at, recovered=take.recovered, touch=take.touch
                )
    except BaseException:
        with suppress(StoreError):
            _withdraw(store, numbers, sittings)
        remove([file for file in _files(store) if file not in there])
        raise


def _add_rows(store: Store, takes: Sequence[BundledTake], source: str) -> tuple[list[int], list[int]]:
    """The numbers of the takes, and of the sittings that are new with them."""
    token = store.backend.sign()
    numbers: list[int] = []
    added: list[int] = []
    with store.backend.writing() as db:
        sittings: dict[str, int] = {at: number for number, at in db.rows("SELECT id, started_at FROM session")}
        for take in takes:
            began = utc_text(take.sitting)
            if began not in sittings:
                sittings[began] = writing.add_session(db, take.sitting)
                added.append(sittings[began])
            info = replace(take.info, session=sittings[began], source=_source(source, take.info.source))
            number = writing.add_take(db, info, token)
            add_verdicts(db, number, take)
            raw = read_take(take.midi, take.info.drill)
            writing.add_chunk(db, number, raw.messages, raw.marks)
            numbers.append(number)
    return numbers, added


def _source(before: str, source: str) -> str:
    return f"{before}: {source}" if before and not source.startswith(before) else source


def _withdraw(store: Store, numbers: Sequence[int], sittings: Sequence[int]) -> None:
    with store.backend.writing() as db:
        for number in numbers:
            db.rows("DELETE FROM take WHERE id = :take", take=number)
        for number in sittings:
            db.rows("DELETE FROM session WHERE id = :session", session=number)
        db.rows("DELETE FROM route WHERE NOT EXISTS (SELECT 1 FROM take WHERE take.route = route.id)")


def _files(store: Store) -> set[Path]:
    """The takes' files beside an embedded history; a server keeps them with their takes."""
    backend = store.backend
    return set((backend.path.parent / TAKES).glob("*.mid")) if isinstance(backend, Embedded) else set()
