"""The vocabulary in the history: for each take a row for each voicing and root in it. SQL within open transactions.

The rows follow from takes, as reviews do, and are made out together with them (:mod:`listener.history.skills.reviews`);
those of free playing come from the takes' files (:mod:`listener.history.vocabulary.free_takes`).
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Final

from listener.errors import MusicError
from listener.history.safekeeping.seals import sealed
from listener.history.skills.skill_key import quality_of, skill_key
from listener.history.store.backend import Rows
from listener.history.vocabulary.vocabulary import Vocabulary, used_from
from listener.judging.free.stood import FEWEST, Stood
from listener.music.chord import Chord, parse_chord
from listener.music.naming import best_name
from listener.music.voicing import Voicing, voicing_of

#: A take of free listening: nothing was asked for and nothing was judged.
IS_FREE: Final = "take.strokes = 0 AND take.route IN (SELECT id FROM route WHERE step_count = 0)"
#: Key of a skill and pitch class of the root.
Place = tuple[str, int]

_HITS: Final = "SELECT step, rest FROM stroke WHERE take = :take AND grade = 'hit'"
_TARGETS: Final = "SELECT step, chord, pitches, skill FROM target WHERE route = :route"
_PUT: Final = """
    INSERT INTO vocabulary (take, skill, root, chords, seal) VALUES (:take, :skill, :root, :chords, :seal)
    ON CONFLICT (take, skill, root) DO UPDATE SET chords = excluded.chords, seal = excluded.seal
"""
#: A day's takes are found first, however many years of them there are.
SUMS: Final = """
    SELECT skill, root, sum(chords) FROM vocabulary
    WHERE take IN (SELECT id FROM take WHERE {0}) GROUP BY skill, root
"""
TAKES: Final = """
    SELECT count(*) FROM take WHERE EXISTS (SELECT 1 FROM vocabulary WHERE vocabulary.take = take.id) AND {0}
"""
ANY: Final = "SELECT 1 FROM vocabulary JOIN take ON take.id = vocabulary.take WHERE {0} LIMIT 1"
UNHEARD: Final = f"SELECT count(*) FROM take WHERE reviewed = 0 AND finished_at IS NOT NULL AND {IS_FREE} AND {{0}}"


@dataclass(frozen=True, slots=True)
class AskedStep:
    """What a step of a plan asks for: its pitches, without their order, and the skill that it practises."""

    chord: Chord
    pitches: frozenset[int]
    skill: str


def asked_by(db: Rows, route: int) -> Mapping[int, AskedStep]:
    """The steps of a route that ask for a chord."""
    found = {}
    for step, chord, pitches, skill in db.rows(_TARGETS, route=route):
        if skill is not None:
            with suppress(MusicError, TypeError, ValueError):  # damaged and not looked at yet: it does not count
                found[step] = AskedStep(parse_chord(chord), frozenset(json.loads(pitches)), skill)
    return found


def of_drilled(db: Rows, take: int, asked: Mapping[int, AskedStep]) -> Counter[Place]:
    """The voicings of a judged take: attempts that were hits, as the plan had them, or as they sounded where a drill
    leaves more open than its plan (then the strings are not known)."""
    found: Counter[Place] = Counter()
    for step, rest in db.rows(_HITS, take=take):
        wanted, heard = asked.get(step), _heard(rest)
        if wanted is not None and len(heard) >= FEWEST:
            planned = (wanted.skill, wanted.chord.root.pitch_class)
            place = planned if heard == wanted.pitches else _as_heard(wanted.chord, tuple(sorted(heard)))
            if place is not None:
                found[place] += 1
    return found


def of_free(stood: Iterable[Stood]) -> Counter[Place]:
    """The voicings of free playing."""
    places = (_place(one.voicing, one.strings) for one in stood)
    return Counter(place for place in places if place is not None)


def put(db: Rows, found: Iterable[tuple[int, Mapping[Place, int]]]) -> None:
    """Write the voicings of takes that have none yet."""
    rows = [
        sealed("vocabulary", {"take": take, "skill": skill, "root": root, "chords": chords})
        for take, places in found
        for (skill, root), chords in places.items()
    ]
    if rows:
        db.many(_PUT, rows)


def read(
    db: Rows,
    whose: tuple[str, str],
    *,
    drill: str | None = None,
    since: str | None = None,
    before: str | None = None,
) -> Vocabulary:
    """A player's vocabulary, of all takes or of one drill's, from a moment on, and up to one (UTC, as kept).

    ``whose`` is what :func:`listener.history.skills.reviews.whose` gives. What is read grows with the number of takes.
    """
    is_whose, pattern = whose
    wanted = {
        "take.drill = :drill": ("drill", drill),
        "take.started_at >= :since": ("since", since),
        "take.started_at < :before": ("before", before),
    }
    given = {condition: pair for condition, pair in wanted.items() if pair[1] is not None}
    where = " AND ".join((is_whose, *given))
    values: dict[str, Any] = {"whose": pattern, **dict(given.values())}
    rows = db.rows(SUMS.format(where), **values)
    return Vocabulary(
        used_from((key, root, int(chords)) for key, root, chords in rows),
        takes=int(db.rows(TAKES.format(where), **values)[0][0]),
        unheard=int(db.rows(UNHEARD.format(where), **values)[0][0]),
    )


def has_any(db: Rows, whose: tuple[str, str]) -> bool:
    """Whether this player has any chord in it."""
    return bool(db.rows(ANY.format(whose[0]), whose=whose[1]))


def _heard(rest: str) -> frozenset[int]:
    """The pitches of a verdict; none where its row is damaged and was not looked at yet."""
    try:
        return frozenset(json.loads(rest)["heard"])
    except (LookupError, TypeError, ValueError):
        return frozenset()


def _as_heard(chord: Chord, heard: tuple[int, ...]) -> Place | None:
    try:
        return _place(voicing_of(chord, heard), ())
    except MusicError:
        named = best_name(heard)
        return _place(named.voicing, ()) if named is not None else None


def _place(voicing: Voicing, strings: tuple[int, ...]) -> Place | None:
    skill = skill_key(voicing.kind, quality_of(str(voicing.chord)), voicing.inversion, strings)
    return None if skill is None else (skill, voicing.chord.root.pitch_class)
