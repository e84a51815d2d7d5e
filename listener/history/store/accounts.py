"""The account of a take as columns beside it (:mod:`listener.judging.account` says what they mean).

They follow from the take's verdicts and are written when it ends, when it is judged again and when it is brought in;
until then they are NULL. Whoever sums up takes reads them and counts nothing.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, Final, NamedTuple

from listener.errors import StoreError
from listener.history.safekeeping.seals import SEALED, seal, seal_of
from listener.history.store.backend import Rows
from listener.judging.account import SUMS, Account
from listener.judging.verdict import GRADES

#: The number of steps is the route's, and kept there.
_SUMS: Final = tuple(name for name in SUMS if name != "steps")
#: The columns of ``take`` of which an account can be made again. Beside them ``complete`` says whether it is.
COLUMNS: Final = (*_SUMS, "faults")
#: What to select of ``take JOIN route`` for :func:`account_from`.
ACCOUNT: Final = ", ".join(("route.step_count", *(f"take.{name}" for name in COLUMNS)))

#: What else is sealed of them.
SEALED_SUMS: Final = (*COLUMNS, "complete")
_SEAL: Final = "UPDATE take SET seal = :seal, account_seal = :account_seal WHERE id = :take"
_PUT: Final = f"UPDATE take SET {', '.join(f'{name} = :{name}' for name in (*COLUMNS, 'complete'))} WHERE id = :take"
_ROUTE: Final = """
    SELECT route.id, route.step_count FROM take JOIN route ON route.id = take.route WHERE take.id = :take
"""
_TOPS: Final = "SELECT step, top FROM target WHERE route = :route"
_ATTEMPTS: Final = """
    SELECT step, attempt, grade, offset_ms, top, movement_semitones, movement_score, fault_codes
    FROM stroke WHERE take = :take ORDER BY number
"""
#: Takes whose accounts are written together.
_AT_ONCE: Final = 1000
#: No drill has more steps; no chord moves further (semitones), is later (ms) or has a higher score.
_STEPS: Final = range(100_000)
_FAR: Final = 1e9


class _Attempt(NamedTuple):
    """What is kept of a verdict, as far as it counts."""

    step: int
    attempt: int
    grade: str
    offset_ms: float | None
    top: int | None
    movement_semitones: int | None
    movement_score: float | None
    fault_codes: Sequence[str]


def account_from(values: Sequence[Any]) -> Account | None:
    """From the number of steps and the :data:`COLUMNS`; None for a take that has none yet. StoreError when damaged."""
    *sums, faults = values
    if faults is None:
        return None
    try:
        return Account(**dict(zip(SUMS, sums, strict=True)), faults=tuple(map(tuple, json.loads(faults))))
    except (TypeError, ValueError) as error:
        raise StoreError("what a take came to is damaged and cannot be read; put back a copy") from error


def settle(db: Rows, takes: Iterable[int]) -> None:
    """Write the accounts of these takes from their verdicts, and seal takes and accounts as they are now."""
    found = list(takes)
    count(db, found)
    seal_takes(db, found)


def seal_takes(db: Rows, takes: Iterable[int]) -> None:
    """Seal these takes and their accounts as they stand, those that have ended; for whoever changed them on purpose."""
    for take in takes:
        for row in db.rows(
            f"SELECT {', '.join((*SEALED['take'], *SEALED_SUMS))} FROM take WHERE id = :take", take=take
        ):
            named = dict(zip((*SEALED["take"], *SEALED_SUMS), row, strict=True))
            if named["finished_at"] is not None:
                db.rows(_SEAL, take=take, seal=seal("take", named), account_seal=account_seal(named))


def account_seal(row: Mapping[str, object]) -> int:
    """The seal of what a take came to."""
    return seal_of([row[name] for name in SEALED_SUMS])


def count(db: Rows, takes: Iterable[int]) -> None:
    """Write the accounts of these takes from their verdicts."""
    asked: dict[int, tuple[int | None, ...]] = {}
    rows: list[dict[str, object]] = []
    for take in takes:
        rows.append({"take": take, **_columns(_account(db, take, asked))})
        if len(rows) == _AT_ONCE:
            db.many(_PUT, rows)
            rows = []
    db.many(_PUT, rows)


def settle_all(db: Rows) -> None:
    """Write all of them anew, in a history that may be older than seals."""
    count(db, [take for (take,) in db.rows("SELECT id FROM take ORDER BY id")])


def _account(db: Rows, take: int, asked: dict[int, tuple[int | None, ...]]) -> Account:
    """``asked`` are the planned top notes of routes, as far as they were needed."""
    ((route, steps),) = db.rows(_ROUTE, take=take)
    if route not in asked:
        tops = {step: top for step, top in db.rows(_TOPS, route=route)}
        asked[route] = tuple(tops.get(step) for step in range(steps))
    return Account.of(_attempts(db.rows(_ATTEMPTS, take=take)), steps, asked[route])


def _attempts(rows: Iterable[Sequence[Any]]) -> Iterator[_Attempt]:
    """Those that can be read: one damaged row must not keep a history from opening, and a look through it tells."""
    for *columns, codes in rows:
        try:
            attempt = _Attempt._make((*columns, tuple(map(str, json.loads(codes)))))
            numbers = (attempt.movement_score or 0, attempt.movement_semitones or 0, attempt.offset_ms or 0)
            if attempt.step in _STEPS and attempt.grade in GRADES and all(abs(number) < _FAR for number in numbers):
                yield attempt
        except (TypeError, ValueError):
            continue


def _columns(account: Account) -> dict[str, object]:
    values: dict[str, object] = {name: getattr(account, name) for name in _SUMS}
    faults = json.dumps(account.faults, separators=(",", ":"))
    return {**values, "faults": faults, "complete": int(account.complete)}
