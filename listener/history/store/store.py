"""The history of all practice: a file on this machine with a folder ``takes`` beside it, or a studio's server.

Each stroke is committed as it is judged, together with the MIDI that came in since the stroke before. Whatever ends the
program, at most the stroke that was being played is lost; a take that was cut off gets its file when the history
is opened next.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from listener import __version__
from listener.drill.making.skill_drill import Shape
from listener.errors import SourceError, StoreError, WidehandError
from listener.hearing.events import Message
from listener.hearing.take_file import Mark, Take, take_bytes
from listener.history.progress import sums
from listener.history.progress.summary import Progress, TakeSummary
from listener.history.safekeeping import rebuilding
from listener.history.safekeeping.recovery import ended_at, rebuilt_take
from listener.history.safekeeping.take_record import kept_file, record_of
from listener.history.safekeeping.taking_in import take_in_rescued
from listener.history.skills import reviews
from listener.history.skills.skills import Standing
from listener.history.skills.standpoint import KnownSkill, Standpoint, examples, standpoint
from listener.history.store import reading, touches, writing
from listener.history.store.backend import Backend, Rows
from listener.history.store.embedded import Embedded
from listener.history.store.folders import TAKES, store_place, studio_address, take_name
from listener.history.store.rows import FormerJudgement, KeptTake, TakeInfo
from listener.history.vocabulary import free_takes
from listener.judging.free.stood import Stood
from listener.judging.touch.account import TouchAccount
from listener.judging.verdict import Verdict
from listener.plain_words import counted

#: Builds the Standard MIDI File of a take.
MakeFile = Callable[[Take], bytes]


class Store:
    """An open history; use it in a ``with`` block. Every method can raise :class:`StoreError`.

    ``notes`` are lines for the player about what was found and put right when the history was opened.
    """

    def __init__(self, backend: Backend) -> None:
        self.backend = backend
        self.notes: tuple[str, ...] = backend.notes
        #: Takes that were cut off and cannot be completed for now; ``notes`` say why.
        self.stuck: frozenset[int] = frozenset()
        #: The takes that run here, each with the numbers of strokes and chunks that it has.
        self._running: dict[int, tuple[int, int]] = {}

    @classmethod
    def open(
        cls, path: Path | str | None = None, *, read_only: bool = False, make_file: MakeFile = take_bytes
    ) -> Store:
        """Open or make the history at ``path``, where WIDEHAND_STORE says, or in the platform's folder.

        ``path`` may be the address of a PostgreSQL server, ``postgresql://user@host/database``. Takes that were cut off
        are completed with ``make_file``. With ``read_only`` nothing is written, nothing completed, and a history that
        does not exist yet reads as an empty one.
        """
        address = studio_address(path)
        if address is None:
            backend: Backend = Embedded.open(store_place(path), read_only=read_only)
        else:
            from listener.history.store.studio import open_studio

            backend = open_studio(address, read_only=read_only)
        store = cls(backend)
        try:
            if not read_only:
                store.notes += take_in_rescued(backend)
                store.notes += store.recover(make_file)
                if isinstance(backend, Embedded) and backend.was_damaged:
                    store.notes += rebuilding.after_damage(backend)
                reviews.bring_up_to_date(backend)
            store.notes += rebuilding.told(backend)
        except BaseException:
            store.close()
            raise
        return store

    def close(self) -> None:
        """Close it. Takes that were not finished are completed when the history is opened next."""
        self.backend.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    # -- writing

    def begin_session(self, started_at: datetime) -> int:
        """One sitting; gives its number."""
        with self.backend.writing() as db:
            return writing.add_session(db, started_at)

    def begin_take(self, info: TakeInfo) -> int:
        """A take starts now; gives its number. Until it is finished it counts as running in this program."""
        token = self.backend.sign()
        with self.backend.writing() as db:
            take_id = writing.add_take(db, info, token)
        self._running[take_id] = (0, 0)
        return take_id

    def keep(self, take_id: int, verdict: Verdict, messages: Sequence[Message], marks: Sequence[Mark] = ()) -> None:
        """Make one settled verdict durable, with the raw messages (and marks) since the last call.

        When this raises, nothing of it was kept: pass the same verdict and messages again once the cause is gone.
        """
        if not verdict.settled:
            raise ValueError("only settled verdicts are kept")
        self._keep(take_id, verdict, messages, marks)

    def keep_messages(self, take_id: int, messages: Sequence[Message], marks: Sequence[Mark] = ()) -> None:
        """Make raw messages and marks durable without a verdict, for instance when the player pauses."""
        self._keep(take_id, None, messages, marks)

    def finish_take(
        self,
        take_id: int,
        take_file_bytes: bytes,
        finished_at: datetime,
        *,
        stood: Sequence[Stood] | None = None,
        touch: TouchAccount | None = None,
    ) -> str:
        """Keep the raw take as ``takes/NNNN-drillname.mid``; gives that name, relative to the history.

        ``touch`` is what the touch of the take came to; ``stood`` are the chords of free playing that were heard while
        it was played, so that its file need not be listened to."""
        if take_id not in self._running:
            raise ValueError(f"take {take_id} is not running here")
        name = self._complete(self.take(take_id), take_file_bytes, finished_at, recovered=False, touch=touch)
        del self._running[take_id]
        with suppress(StoreError):  # the take is kept; what it says about skills is made out at the next start
            if stood is not None:
                free_takes.keep_heard(self.backend, take_id, stood)
            reviews.bring_up_to_date(self.backend)
        return name

    def drop_take(self, take_id: int) -> None:
        """A take that runs here has ended before anything came: it is forgotten. One with strokes or MIDI stays."""
        with self._running_take(take_id) as db:
            writing.drop_take(db, take_id)
        del self._running[take_id]

    def rewrite(
        self,
        take_id: int,
        verdicts: Sequence[Verdict],
        at: datetime,
        program_version: str = __version__,
        touch: TouchAccount | None = None,
    ) -> None:
        """Other verdicts for a finished take; those it had stay in :meth:`former_judgements`. Its touch stays what it
        was kept as unless it is given."""
        if self.take(take_id).finished_at is None:
            raise ValueError(f"take {take_id} is still being played")
        with self.backend.writing() as db:
            writing.replace_strokes(db, take_id, verdicts, at, program_version, touch)
            reviews.forget(db, [take_id])

    def keep_touch(self, take_id: int, touch: TouchAccount) -> None:
        """What the touch of a finished take came to, where nobody knew."""
        with self.backend.writing() as db:
            touches.put_touch(db, take_id, touch)

    def review_again(self, take_ids: Sequence[int]) -> None:
        """Grade finished takes by today's rules (:mod:`~listener.history.skills.grading`); skills and dates follow."""
        with self.backend.writing() as db:
            reviews.forget(db, take_ids)
        reviews.bring_up_to_date(self.backend, everything=True)

    def recover(self, make_file: MakeFile = take_bytes) -> tuple[str, ...]:
        """Complete the takes of programs that have ended without finishing them; gives a line for each."""
        with self.backend.reading() as db:
            open_takes = reading.unfinished(db)
        notes = []
        for take_id, owner in open_takes:
            if take_id in self._running:
                continue
            with self.backend.if_gone(owner) as gone:
                if gone:
                    notes.append(self._recover(take_id, owner, make_file))
        self.backend.clear_signs()
        return tuple(filter(None, notes))

    # -- reading

    def take(self, take_id: int) -> KeptTake:
        """One take; StoreError when there is none of that number."""
        with self.backend.reading() as db:
            kept = reading.take(db, take_id)
        if kept is None:
            raise StoreError(
                f"there is no take {take_id} in {self.backend.place}; see widehand progress for what there is"
            )
        return kept

    def takes(self, drill: str | None = None) -> tuple[KeptTake, ...]:
        """All takes, or those of one drill, oldest first."""
        with self.backend.reading() as db:
            return reading.takes(db, drill)

    def drills(self) -> tuple[str, ...]:
        """The names of all drills that were played, by the alphabet."""
        with self.backend.reading() as db:
            return reading.drills(db)

    def verdicts(self, take_id: int) -> tuple[Verdict, ...]:
        """The verdicts of a take as they were kept, in the order of playing."""
        with self.backend.reading() as db:
            return reading.verdicts(db, take_id)

    def former_judgements(self, take_id: int) -> tuple[FormerJudgement, ...]:
        """What the take was judged to be before it was rejudged, oldest first."""
        with self.backend.reading() as db:
            return reading.former_judgements(db, take_id)

    def summaries(self, drill: str | None = None, player: str = reviews.PLAYER) -> list[TakeSummary]:
        """What each take of this player came to that has ended and has a verdict, oldest first."""
        with self.backend.reading() as db:
            return sums.takes(db, drill, player=player)

    def progress(self, drill: str | None = None, player: str = reviews.PLAYER) -> Progress:
        """What :func:`listener.history.progress.progress.summarise` says about these takes."""
        with self.backend.reading() as db:
            return sums.progress(db, drill, player)

    @property
    def begun(self) -> bool:
        """Whether there is a take at all, a finished one or not."""
        with self.backend.reading() as db:
            return bool(db.rows("SELECT 1 FROM take LIMIT 1"))

    def has_drills(self, player: str) -> bool:
        """Whether this player has played a drill, so that something was judged."""
        with self.backend.reading() as db:
            return bool(db.rows("SELECT 1 FROM drill_played WHERE player = :player LIMIT 1", player=player))

    def standpoint(self, player: str, now: datetime) -> Standpoint:
        """What is due for this player at this moment, what is weak, and what was played."""
        with self.backend.reading() as db:
            return standpoint(db, player, now)

    def examples(self, skill: KnownSkill) -> tuple[tuple[Shape, ...], ...]:
        """Shapes to practise a skill with (:func:`listener.history.skills.standpoint.examples`)."""
        with self.backend.reading() as db:
            return examples(db, skill)

    def standings(self, player: str = reviews.PLAYER) -> dict[str, Standing]:
        """Where the player stands with each skill, and when it is due; see :mod:`listener.history.skills.skills`."""
        with self.backend.reading() as db:
            return reviews.standings(db, player)

    def take_file(self, take_id: int) -> bytes:
        """The Standard MIDI File of a finished take; StoreError when it is not there or not what was kept."""
        kept = self.take(take_id)
        if kept.file is None:
            raise StoreError(f"take {take_id} is not finished, so it has no file yet; finish it first")
        data, trouble = self._file(kept)
        if trouble:
            raise StoreError(trouble)
        return data

    def check(self) -> tuple[str, ...]:
        """Look through everything, the takes' files too; a line for each thing that is wrong."""
        found = [*self.backend.check()]
        for kept in self.takes() if not found else ():
            found += [self._file(kept)[1]] if kept.file is not None else []
            try:
                self.verdicts(kept.id)
            except StoreError as error:
                found.append(str(error))
        return tuple(filter(None, found))

    # -- within

    def _file(self, kept: KeptTake) -> tuple[bytes, str]:
        """A take's file, and what is wrong with it."""
        assert kept.file is not None
        place = self.backend.file_place(kept.file)
        try:
            data = self.backend.read_file(kept.id, kept.file)
        except OSError as error:
            reason = (error.strerror or str(error)).lower()
            return b"", f"take {kept.id} cannot be read from {place} ({reason}); put the file back"
        if data is None:
            return b"", f"take {kept.id} cannot be read from {place} (there is no such file); put the file back"
        if kept.sha256 is not None and hashlib.sha256(data).hexdigest() != kept.sha256:
            return b"", f"the file of take {kept.id} is not what was kept: {place} has changed; put a copy back"
        return data, ""

    def _keep(self, take_id: int, verdict: Verdict | None, messages: Sequence[Message], marks: Sequence[Mark]) -> None:
        with self._running_take(take_id) as db:
            strokes, chunks = self._running[take_id]
            if verdict is not None:
                strokes += 1
                writing.add_stroke(db, take_id, verdict, strokes)
            if messages or marks:
                chunks += 1
                writing.add_chunk(db, take_id, messages, marks, chunks)
        self._running[take_id] = (strokes, chunks)

    @contextmanager
    def _running_take(self, take_id: int) -> Iterator[Rows]:
        if take_id not in self._running:
            raise ValueError(f"take {take_id} is not running here")
        with self.backend.writing() as db:
            yield db

    def _recover(self, take_id: int, owner: str, make_file: MakeFile) -> str:
        kept = self.take(take_id)
        if kept.finished_at is not None:
            return ""  # another program was quicker
        try:
            verdicts = self.verdicts(take_id)
            if self._is_whole(kept, owner, len(verdicts)):
                return ""
            with self.backend.reading() as db:
                messages, marks = reading.chunks(db, take_id)
                sitting = reading.sitting(db, take_id)
            ended = ended_at(kept, messages, verdicts)
            record = record_of(
                kept.info, verdicts, owner=owner, sitting=sitting, finished_at=ended, recovered=True,
                judged_by=kept.judged_by,
            )  # fmt: skip
            data = make_file(replace(rebuilt_take(kept, messages, marks), record=record))
            self._complete(kept, data, ended, recovered=True)
        except (WidehandError, ValueError) as error:
            self.stuck |= {take_id}
            return f"take {take_id} of {kept.info.drill} was cut off and its file cannot be made: {error}"
        strokes = counted(len(verdicts), "stroke is", "strokes are")
        return f"take {take_id} of {kept.info.drill} was cut off; its {strokes} kept"

    def _is_whole(self, kept: KeptTake, owner: str, strokes: int) -> bool:
        """Whether the program was ended between writing the take's file and noting it, which then is done here."""
        name = f"{take_name(kept.id, kept.info.drill)}.mid"
        try:
            data = self.backend.read_file(kept.id, f"{TAKES}/{name}") or b""
            found = kept_file(data, name)
        except (OSError, SourceError):
            return False
        if found is None or found.owner != owner or len(found.take.verdicts) != strokes:
            return False
        if found.take.info.started_at != kept.info.started_at:
            return False
        take = found.take
        self._complete(kept, data, take.finished_at, recovered=take.recovered, touch=take.touch)
        return True

    def _complete(
        self,
        kept: KeptTake,
        data: bytes,
        finished_at: datetime,
        *,
        recovered: bool,
        touch: TouchAccount | None = None,
    ) -> str:
        name = self.backend.write_file(kept.id, take_name(kept.id, kept.info.drill), data)
        with self.backend.writing() as db:
            writing.finish_take(db, kept.id, name, data, finished_at, recovered=recovered, touch=touch)
        return name
