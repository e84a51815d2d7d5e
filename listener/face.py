"""What others may use from Python: ``listener.name``, ``plan``, ``judge`` and ``hear``. docs/python.md shows each.

They are what the commands of the same names do, without printing: the same ears, the same planner, the same judge.
``import listener`` loads none of it, and each function loads what it needs when it is first called. What is wrong with
what they are given they say with :class:`listener.errors.WidehandError`, in words for players.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from typing import TYPE_CHECKING

from listener.errors import UsageError
from listener.safe_text import echo

if TYPE_CHECKING:
    from listener.drill.drill import Drill
    from listener.hearing.take_file import TakeStream
    from listener.judging.free.free import HeardTake
    from listener.judging.judged import JudgedTake
    from listener.music.naming import Naming
    from listener.planning.plan import Plan


def name(notes: str | Iterable[str | int]) -> tuple[Naming, ...]:
    """What these notes are called, as ``widehand name`` says it: the likeliest reading first, none when no chord fits.

    ``notes`` are names with octaves or MIDI numbers (60 is C4), in any order: a text such as ``"G3 E4 C5"``, or a row
    of them such as ``[55, 64, 72]``. Of a :class:`~listener.music.naming.Naming` you may rely on ``sentence``,
    ``chord`` (``str`` of it is its symbol), ``voicing`` and ``missing``.

    >>> name("G3 E4 C5")[0].sentence
    'C spread triad, second inversion (5-3-1): G3 E4 C5, span 17 semitones'

    Raises :class:`~listener.errors.WidehandError` that names the word which is no note.
    """
    from listener.music.naming import name_pitches
    from listener.music.note_words import parse_notes, wants_flats

    if isinstance(notes, bytes | bytearray) or not isinstance(notes, Iterable):
        raise UsageError(f"notes are a text such as 'G3 E4 C5' or a row such as [55, 64, 72], not {_shown(notes)}")
    words = [notes] if isinstance(notes, str) else list(map(str, notes))
    midi = parse_notes(words)
    if not midi:
        raise UsageError("no notes given; write names or MIDI numbers, such as 'G3 E4 C5' or [55, 64, 72]")
    return name_pitches(midi, flats=wants_flats(words))


def plan(
    drill: str | os.PathLike[str],
    *,
    tuning: str | None = None,
    capo: int | None = None,
    hand: str | None = None,
    easier: bool = False,
) -> Plan:
    """The route through a drill, as ``widehand plan`` shows it: for each chord a voicing, its place on the neck and the
    fingers, so that voices and hand move as little as they can.

    ``drill`` is the name of one of the course or of your own, the path of a ``.toml`` file, or a drill's text.
    ``tuning`` is a name such as ``"drop d"`` or the open strings from the lowest up, ``hand`` a size or six lengths in
    mm, ``capo`` a fret; what you leave out is as in your settings. With ``easier`` it asks less of the hand, where it
    can.

    Of a :class:`~listener.planning.plan.Plan` you may rely on ``drill`` (``title``, ``key``, ``tempo`` in beats a
    minute), ``steps``, ``total_movement`` in semitones, and ``as_json()``. A step has ``step`` (``index`` from 0,
    ``passage``, ``bar`` and ``beat`` from 1), ``voicing`` (``chord``, ``kind``, ``names``, ``midi``), ``fingering``
    (``strings``, ``frets`` and ``fingers``, from the lowest note up) and ``movement``, None for the first.

    Raises :class:`~listener.errors.WidehandError` for a drill that is not there, cannot be read or cannot be played,
    and for a guitar or a hand that cannot be.
    """
    from listener.request import Request, plan_for

    for what, said in (("tuning", tuning), ("hand", hand)):
        _check_text(what, said)
    if capo is not None and (isinstance(capo, bool) or not isinstance(capo, int)):
        raise UsageError(f"the capo lies on a fret, a whole number, not on {_shown(capo)}")
    request = Request(tuning=tuning, capo=capo, hand=hand, easier=easier)
    return plan_for(request, _drill(drill))


def judge(
    take: str | os.PathLike[str] | bytes,
    drill: str | os.PathLike[str] | Plan,
    *,
    pickup: str | None = None,
    tempo: float | None = None,
) -> JudgedTake:
    """A take against a drill, as ``widehand hear TAKE --drill DRILL`` judges it.

    ``take`` is the path or the bytes of a MIDI file: a take that this program kept, or a recording from elsewhere. A
    take says for which guitar and hand it was played; a recording has those of your settings. To judge against another
    route, or many takes against one, give a plan instead of a ``drill``. ``pickup`` says how the guitar sent, where the
    file does not. ``tempo`` in beats a minute is for a recording that was played to a click from its first note on.

    Of a :class:`~listener.judging.judged.JudgedTake` you may rely on ``plan``, ``verdicts``, ``account`` and
    ``as_json()``. A verdict has ``step`` (an index into ``plan.steps``), ``attempt`` from 1, ``grade`` (``"hit"``,
    ``"near"`` or ``"miss"``), ``faults`` (``code`` for programs, ``text`` for players), ``heard`` (MIDI numbers),
    ``onset_s`` and ``offset_ms`` (late is above 0; None without a click). An account has ``steps``, ``judged``,
    ``hits``, ``nears``, ``misses``, ``put_right``, ``complete``, ``movement_score`` and ``faults``.

    Raises :class:`~listener.errors.WidehandError` for a file that is no MIDI, and where :func:`plan` does.
    """
    from listener.hearing.sources.opening import pickup_of
    from listener.judging.judged import judged
    from listener.judging.take import TakeJudge, click_from_first_note
    from listener.planning.plan import Plan
    from listener.request import Request, plan_for

    _check_text("pickup", pickup)
    opened = _opened(take)
    with_pickup = pickup_of(opened, pickup)
    target = drill if isinstance(drill, Plan) else plan_for(Request(), _drill(drill), opened.header)
    anchor = None
    if tempo is not None:
        anchor = click_from_first_note(opened, _tempo(tempo), _called(take), "tempo")
    return judged(target, TakeJudge(target, with_pickup, anchor), opened)


def hear(take: str | os.PathLike[str] | bytes, *, pickup: str | None = None) -> HeardTake:
    """A MIDI file without a drill, as ``widehand hear`` hears it: what each stroke was, and the harmony over them.

    ``take`` is the path or the bytes of a MIDI file; ``pickup`` says how the guitar sent, where the file does not.

    Of a :class:`~listener.judging.free.free.HeardTake` you may rely on ``chords``, ``harmony`` and ``as_json()``. A
    chord has ``onset_s``, ``pitches`` (MIDI numbers), ``names``, ``chord``, ``kind`` and ``inversion`` (None where it
    has no name) and ``movement`` from the one before. A chord of the harmony has ``onset_s``, from when on it governs,
    and ``symbol``, None where none does.

    Raises :class:`~listener.errors.WidehandError` for a file that is no MIDI or has no notes.
    """
    from listener.hearing.sources.opening import pickup_of
    from listener.judging.free.free import hear_freely

    _check_text("pickup", pickup)
    opened = _opened(take)
    return hear_freely(opened, pickup_of(opened, pickup))


def _opened(take: str | os.PathLike[str] | bytes) -> TakeStream:
    from listener.hearing.sources.opening import load_take, take_in
    from listener.places import given

    if isinstance(take, bytes):
        return take_in(take, _called(take))
    return load_take(given(_path(take, "a take is the path of a MIDI file or its bytes")))


def _called(take: str | os.PathLike[str] | bytes) -> str:
    """How messages speak of it."""
    return "the MIDI file" if isinstance(take, bytes) else str(take)


def _drill(said: object) -> Drill | str:
    """A drill's text is read here; a name or a path stays what it is. Only a text has lines."""
    from listener.drill.drill_file import read_drill

    drill = _path(said, "a drill is the name of one, the path of a .toml file, or a drill's text")
    return read_drill(drill, "the drill") if isinstance(said, str) and "\n" in said else drill


def _path(said: object, wanted: str) -> str:
    path = os.fspath(said) if isinstance(said, str | os.PathLike) else None
    if not isinstance(path, str):
        raise UsageError(f"{wanted}, not {_shown(said)}")
    return path


def _tempo(tempo: float) -> float:
    from listener.drill.drill import FASTEST, SLOWEST

    if isinstance(tempo, bool) or not isinstance(tempo, int | float) or not SLOWEST <= tempo <= FASTEST:
        raise UsageError(f"a tempo is a number from {SLOWEST:g} to {FASTEST:g} beats a minute, not {_shown(tempo)}")
    return float(tempo)


def _check_text(what: str, said: object) -> None:
    if said is not None and not isinstance(said, str):
        raise UsageError(f"the {what} is said in words, not as {_shown(said)}")


def _shown(said: object) -> str:
    return echo(repr(said))
