"""Skills in the history: what each take says about them, and when each is due. SQL within open transactions.

Everything in the tables ``skill``, ``review``, ``drill_played`` and ``vocabulary`` follows from takes and strokes. A
take is reviewed when it has ended, in a transaction of its own; whatever ended a program before that, the next one that
opens the history does it then. Takes are gone through in the order in which they ended. When one comes too late (it was
cut off, judged again or brought in from elsewhere), the reviews of its skills are gone through again from the first.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from listener.history.safekeeping import sense
from listener.history.safekeeping.seals import sealed
from listener.history.skills.memory import Memory
from listener.history.skills.skills import Played, Review, Standing, after, keys_of, reviews, showings, standing_of
from listener.history.store.backend import Backend, Rows
from listener.history.store.rows import utc_moment, utc_text
from listener.history.vocabulary import rows as vocabulary_rows
from listener.history.vocabulary.free_takes import hear_free_takes
from listener.history.vocabulary.rows import AskedStep, Place

#: The source of takes that nobody played; their skills are kept apart
#: (:attr:`listener.history.store.rows.TakeInfo.source`).
SIMULATED: Final = "simulated guitar"
#: Whose skills those of all other takes are.
PLAYER: Final = ""
#: Takes and skills in one transaction: others wait no longer than a moment, and what is done stays done.
_TAKES_AT_ONCE: Final = 400
_SKILLS_AT_ONCE: Final = 100

_STANDING: Final = (
    *("stability_days", "difficulty", "stage", "learning_step", "reviewed_at", "due_at"),
    *("reviews", "tries", "hits", "recent", "take", "route", "step"),
)
STANDINGS: Final = f"SELECT id, key, stale, {', '.join(_STANDING)} FROM skill WHERE player = :player"
_ADD_SKILL: Final = (
    f"INSERT INTO skill (player, key, {', '.join(_STANDING)}, seal) "
    f"VALUES (:player, :key, {', '.join(f':{name}' for name in _STANDING)}, :seal) RETURNING id"
)
_PUT_SKILL: Final = (
    f"UPDATE skill SET stale = 0, {', '.join(f'{name} = :{name}' for name in (*_STANDING, 'seal'))} WHERE id = :id"
)
_ADD_REVIEW: Final = (
    "INSERT INTO review (skill, take, grade, tries, hits, step, seal) "
    "VALUES (:skill, :take, :grade, :tries, :hits, :step, :seal)"
)
_SPOIL: Final = """
    UPDATE skill SET stale = 1 WHERE id IN (SELECT skill FROM review WHERE skill = :skill AND take = :take)
"""
_LOG: Final = """
    SELECT review.grade, review.tries, review.hits, review.take, take.route, review.step, take.finished_at
    FROM review JOIN take ON take.id = review.take WHERE review.skill = :skill
"""
_UNREVIEWED: Final = f"""
    SELECT id, route, source, drill, tempo, complete, finished_at FROM take
    WHERE reviewed = 0 AND finished_at IS NOT NULL AND NOT ({vocabulary_rows.IS_FREE})
    ORDER BY finished_at, id LIMIT :most
"""
_STROKES: Final = """
    SELECT step, attempt, grade, top, movement_score FROM stroke WHERE take = :take ORDER BY number
"""
_PUT_DRILL: Final = """
    INSERT INTO drill_played (player, drill, title, take, route, drill_tempo, beats, strain, played_at, seal)
    VALUES (:player, :drill, :title, :take, :route, :drill_tempo, :beats, :strain, :played_at, :seal)
    ON CONFLICT (player, drill) DO UPDATE SET
        title = excluded.title, take = excluded.take, route = excluded.route, drill_tempo = excluded.drill_tempo,
        beats = excluded.beats, strain = excluded.strain, played_at = excluded.played_at, seal = excluded.seal
"""
#: The take that says most about a drill: the newest of the whole drill, or the newest of all; and when it was played.
_SAYS_MOST: Final = """
    SELECT id, route, (SELECT max(finished_at) FROM take {0}) FROM take {0}
    ORDER BY complete DESC, finished_at DESC, id DESC LIMIT 1
"""
_OF_DRILL: Final = "WHERE drill = :drill AND finished_at IS NOT NULL AND strokes > 0 AND {0}"


def player_of(source: str) -> str:
    """Whose skills a take shows. Takes that were brought in say first where they came from."""
    return SIMULATED if source.endswith(SIMULATED) else PLAYER


def whose(player: str) -> tuple[str, str]:
    """The same in SQL: a condition for the source of a take, and its value ``whose``."""
    return ("take.source LIKE :whose" if player == SIMULATED else "take.source NOT LIKE :whose"), f"%{SIMULATED}"


def bring_up_to_date(backend: Backend, *, everything: bool = False) -> None:
    """Review every take that has ended, then listen to free takes, to ``everything`` or for a moment; several programs
    take turns."""
    routes: dict[int, _Route] = {}
    while True:
        with backend.reading() as db:
            takes = db.rows(_UNREVIEWED, most=1)
            stale = not takes and db.rows("SELECT 1 FROM skill WHERE stale = 1 LIMIT 1")
        if not takes and not stale:
            break
        with backend.writing() as db:
            _take_turn(db)
            if takes:
                _review_takes(db, routes)
            else:
                _go_through_again(db)
    hear_free_takes(backend, everything=everything)


def forget_all(db: Rows) -> None:
    """Everything about skills is to be made out anew."""
    for table in ("vocabulary", "review", "skill", "drill_played", "reviewing"):
        db.rows(f"DELETE FROM {table}")
    db.rows("INSERT INTO reviewing (turn) VALUES (0)")
    db.rows("UPDATE take SET reviewed = 0")


def forget(db: Rows, takes: Iterable[int]) -> None:
    """What these takes said about skills is to be made out anew; :func:`bring_up_to_date` does it."""
    _take_turn(db)
    keys: dict[int, frozenset[str]] = {}
    numbers: dict[str, dict[str, int]] = {}
    for take in takes:
        found = db.rows("SELECT route, source FROM take WHERE id = :take AND reviewed = 1", take=take)
        for route, source in found:
            player = player_of(source)
            if player not in numbers:
                rows = db.rows("SELECT key, id FROM skill WHERE player = :player", player=player)
                numbers[player] = {key: number for key, number in rows}
            if route not in keys:
                keys[route] = keys_of(_skills(db, route))
            touched = [numbers[player][key] for key in keys[route] if key in numbers[player]]
            if touched:
                pairs = [{"skill": number, "take": take} for number in touched]
                db.many(_SPOIL, pairs)
                db.many("DELETE FROM review WHERE skill = :skill AND take = :take", pairs)
            db.rows("DELETE FROM vocabulary WHERE take = :take", take=take)
            db.rows("UPDATE take SET reviewed = 0 WHERE id = :take", take=take)


def standings(db: Rows, player: str = PLAYER) -> dict[str, Standing]:
    """Where a player stands with every skill, by its key."""
    return {key: _standing(values) for _, key, _, *values in db.rows(STANDINGS, player=player)}


# -- within


@dataclass(slots=True)
class _Entry:
    """A skill while takes are gone through."""

    number: int | None = None
    standing: Standing | None = None
    stale: bool = False


@dataclass(frozen=True, slots=True)
class _Route:
    """What is asked of a route: the skill of each step and its chord, the drill's title and tempo (beats per minute),
    its length in beats and the mean strain of its shapes (0 to 1)."""

    skills: Mapping[int, str | None]
    asked: Mapping[int, AskedStep]
    title: str
    tempo: float | None
    beats: float
    strain: float


@dataclass(slots=True)
class _Batch:
    """What is written when some takes have been gone through."""

    entries: dict[tuple[str, str], _Entry] = field(default_factory=dict)
    touched: dict[tuple[str, str], None] = field(default_factory=dict)
    log: list[tuple[tuple[str, str], Review]] = field(default_factory=list)
    players: set[str] = field(default_factory=set)
    #: Player and drill of each take.
    drills: dict[tuple[str, str], None] = field(default_factory=dict)
    #: The voicings of each take.
    voicings: list[tuple[int, Mapping[Place, int]]] = field(default_factory=list)


def _take_turn(db: Rows) -> None:
    """Hold the row: a server would let two programs read the same standings and write over each other."""
    db.rows("UPDATE reviewing SET turn = turn + 1")


def _review_takes(db: Rows, routes: dict[int, _Route]) -> None:
    batch = _Batch()
    takes = db.rows(_UNREVIEWED, most=_TAKES_AT_ONCE)
    for take, route_number, source, drill, tempo, complete, ended in takes:
        player = player_of(source)
        if player not in batch.players:
            batch.players.add(player)
            for number, key, stale, *values in db.rows(STANDINGS, player=player):
                batch.entries[player, key] = _Entry(number, _standing(values), bool(stale))
        route = _known_route(db, routes, route_number)
        strokes = [Played(*row) for row in db.rows(_STROKES, take=take)]
        share = tempo / route.tempo if complete and tempo and route.tempo else None
        shown = showings(strokes, route.skills, share)
        for key, review in reviews(shown, take, route_number, utc_moment(ended)).items():
            _add(batch, (player, key), review)
        batch.drills[player, drill] = None
        batch.voicings.append((take, vocabulary_rows.of_drilled(db, take, route.asked)))
    _write(db, batch)
    for player, drill in batch.drills:
        _put_drill(db, routes, player, drill)
    if takes:
        db.many("UPDATE take SET reviewed = 1 WHERE id = :take", [{"take": row[0]} for row in takes])


def _put_drill(db: Rows, routes: dict[int, _Route], player: str, drill: str) -> None:
    condition, pattern = whose(player)
    found = db.rows(_SAYS_MOST.format(_OF_DRILL.format(condition)), drill=drill, whose=pattern)
    if not found:  # nothing was judged, or nothing any more
        db.rows("DELETE FROM drill_played WHERE player = :player AND drill = :drill", player=player, drill=drill)
        return
    ((take, number, played_at),) = found
    route = _known_route(db, routes, number)
    row = {
        "player": player,
        "drill": drill,
        "title": route.title or drill,
        "take": take,
        "route": number,
        "drill_tempo": route.tempo,
        "beats": route.beats,
        "strain": route.strain,
        "played_at": played_at,
    }
    db.rows(_PUT_DRILL, **sealed("drill_played", row))


def _add(batch: _Batch, name: tuple[str, str], review: Review) -> None:
    entry = batch.entries.setdefault(name, _Entry())
    if entry.stale or (entry.standing is not None and review.order <= entry.standing.order):
        entry.stale = True
    else:
        entry.standing = after(entry.standing, review)
    batch.touched[name] = None
    batch.log.append((name, review))


def _write(db: Rows, batch: _Batch) -> None:
    old, stale = [], []
    for player, key in batch.touched:
        entry = batch.entries[player, key]
        assert entry.standing is not None
        if entry.number is None:
            values = _values(player, key, entry.standing)
            entry.number = int(db.rows(_ADD_SKILL, **values)[0][0])
        elif not entry.stale:
            old.append({"id": entry.number, **_values(player, key, entry.standing)})
        if entry.stale:
            stale.append({"id": entry.number})
    if old:
        db.many(_PUT_SKILL, old)
    if stale:
        db.many("UPDATE skill SET stale = 1 WHERE id = :id", stale)
    if batch.log:
        db.many(_ADD_REVIEW, [_log_row(batch.entries[name].number, review) for name, review in batch.log])
    vocabulary_rows.put(db, batch.voicings)


def _go_through_again(db: Rows) -> None:
    stale = "SELECT id, player, key FROM skill WHERE stale = 1 LIMIT :most"
    for number, player, key in db.rows(stale, most=_SKILLS_AT_ONCE):
        log = [
            Review(grade, tries, hits, take, route, step, utc_moment(at))
            for grade, tries, hits, take, route, step, at in db.rows(_LOG, skill=number)
        ]
        standing = standing_of(log)
        if standing is None:
            db.rows("DELETE FROM skill WHERE id = :id", id=number)
        else:
            db.rows(_PUT_SKILL, id=number, **_values(player, key, standing))


def _skills(db: Rows, route: int) -> dict[int, str | None]:
    return {step: skill for step, skill in db.rows("SELECT step, skill FROM target WHERE route = :route", route=route)}


def _known_route(db: Rows, routes: dict[int, _Route], number: int) -> _Route:
    if number not in routes:
        routes[number] = _route(db, number)
    return routes[number]


def _route(db: Rows, number: int) -> _Route:
    plan = sense.sound_plan(db.rows("SELECT plan FROM route WHERE id = :route", route=number)[0][0])
    steps: Sequence[Mapping[str, Any]] = plan.get("steps", [])
    tempo = plan.get("tempo")
    strains = [float(step.get("strain", 0.0)) for step in steps]
    return _Route(
        skills=_skills(db, number),
        asked=vocabulary_rows.asked_by(db, number),
        title=str(plan.get("title", "")),
        tempo=float(tempo) if tempo else None,
        # Programs that did not keep how long a chord lasts had bars of four for each of them, more or less.
        beats=sum(float(step.get("beats", 4.0)) for step in steps),
        strain=sum(strains) / len(strains) if strains else 0.0,
    )


def _log_row(number: int | None, review: Review) -> dict[str, object]:
    row = {
        "skill": number,
        "take": review.take,
        "grade": review.grade,
        "tries": review.tries,
        "hits": review.hits,
        "step": review.step,
    }
    return sealed("review", row)


def _values(player: str, key: str, standing: Standing) -> dict[str, object]:
    memory = standing.memory
    row = {
        "player": player,
        "key": key,
        "stability_days": memory.stability_days,
        "difficulty": memory.difficulty,
        "stage": memory.stage,
        "learning_step": memory.step,
        "reviewed_at": utc_text(memory.reviewed_at),
        "due_at": utc_text(memory.due_at),
        "reviews": standing.reviews,
        "tries": standing.tries,
        "hits": standing.hits,
        "recent": standing.recent,
        "take": standing.take,
        "route": standing.route,
        "step": standing.step,
    }
    return sealed("skill", row)


def _standing(values: Sequence[Any]) -> Standing:
    stability, difficulty, stage, step, reviewed_at, due_at, *rest = values
    return Standing(Memory(stability, difficulty, stage, step, utc_moment(reviewed_at), utc_moment(due_at)), *rest)
