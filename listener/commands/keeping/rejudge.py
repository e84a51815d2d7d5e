"""``widehand rejudge``: judge kept takes again from their MIDI, and show what is different now."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime

from listener import __version__
from listener.commands.files import is_there
from listener.commands.json_out import print_json
from listener.commands.setup import store_path
from listener.errors import StoreError, UsageError, WidehandError
from listener.hearing.take_file import read_take
from listener.history.rejudging import VerdictChange, changes, plan_again, rejudged
from listener.history.safekeeping.rebuilding import rebuild, told
from listener.history.store.folders import store_place, studio_address
from listener.history.store.rows import KeptTake
from listener.history.store.store import Store
from listener.judging.touch.account import TouchAccount
from listener.judging.verdict import Verdict
from listener.plain_words import counted
from listener.planning.plan import Plan
from listener.safe_text import echo, printable
from listener.screen.sparkline import output_wants_plain
from listener.screen.theme import Theme


@dataclass(frozen=True)
class RejudgedTake:
    """One take, judged again. ``trouble`` says why it could not be; ``written`` that the new verdicts were kept."""

    kept: KeptTake
    changes: tuple[VerdictChange, ...] = ()
    trouble: str = ""
    written: bool = False

    def as_json(self) -> dict[str, object]:
        """One entry of ``takes``."""
        return {
            "take": self.kept.id,
            "drill": self.kept.info.drill,
            "started_at": self.kept.info.started_at.isoformat(),
            "judged_by": self.kept.judged_by,
            "changes": [change.as_json() for change in self.changes],
            "trouble": self.trouble or None,
            "written": self.written,
        }


class Rejudging:
    """Goes through takes of one store; drills that many takes share are planned once."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._plans: dict[tuple[object, ...], Plan] = {}

    def outcome(self, kept: KeptTake, *, write: bool) -> RejudgedTake:
        """Judge one finished take again, and keep the new verdicts when that is asked for and there are any."""
        try:
            before, (after, touch) = self._store.verdicts(kept.id), self._judged(kept)
        except WidehandError as error:
            return RejudgedTake(kept, trouble=" ".join(str(error).split()))
        found = changes(before, after)
        if write and found:
            self._store.rewrite(kept.id, after, datetime.now(UTC), touch=touch)
        elif write and kept.touch is None:
            self._store.keep_touch(kept.id, touch)
        return RejudgedTake(kept, found, written=write and bool(found))

    def _judged(self, kept: KeptTake) -> tuple[tuple[Verdict, ...], TouchAccount]:
        take = read_take(self._store.take_file(kept.id), kept.file or "")
        return rejudged(kept.info, self._plan(kept), take)

    def _plan(self, kept: KeptTake) -> Plan:
        info = kept.info
        key = (kept.route, info.drill, info.instrument, info.tuning, info.capo, info.hand_model, info.hand)
        if key not in self._plans:
            self._plans[key] = plan_again(info)
        return self._plans[key]


def main(arguments: Namespace) -> int:
    """The exit code is 1 when something kept is damaged or cannot be judged again, or a file cannot be taken in."""
    if arguments.rebuild:
        return _rebuild(arguments)
    store, refused = _opened(arguments)
    with store:
        for line in store.notes:
            print(line, file=sys.stderr)
        kept = _wanted(store, arguments)
        unfinished = sum(take.finished_at is None for take in store.takes(arguments.drill or None))
        troubles = store.backend.check()
        rejudging = Rejudging(store)
        outcomes = [rejudging.outcome(take, write=arguments.write) for take in kept]
        if arguments.write:
            store.review_again([take.id for take in (*kept, *_free(store, arguments))])
        is_new = not store.notes and not refused  # whatever is said of it, nobody who has played is told "no takes yet"
        stuck = refused or store.stuck
    waiting = _waiting(len(outcomes), unfinished, refused, stuck=bool(stuck))
    if arguments.json:
        print_json("rejudge", {**_document(outcomes, troubles), "unfinished": unfinished})
    else:
        theme = Theme(ascii_only=output_wants_plain())
        for line in _report(outcomes, troubles, waiting, is_new=is_new):
            print(theme.words(printable(line)))
    cannot = stuck and (unfinished or not outcomes)
    return 1 if troubles or cannot or any(outcome.trouble for outcome in outcomes) else 0


def _rebuild(arguments: Namespace) -> int:
    if arguments.take is not None or arguments.drill or arguments.write:
        raise UsageError(
            "--rebuild takes in every take that lies beside the history; leave out --take, --drill, --write"
        )
    with Store.open(store_path(arguments)) as store:
        for line in store.notes:
            if line not in told(store.backend):
                print(line, file=sys.stderr)
        rebuilt = rebuild(store.backend)
        place = store.backend.place
    if arguments.json:
        print_json("rebuild", {"rebuilt": rebuilt.as_json()})
        return 1 if rebuilt.troubles else 0
    theme = Theme(ascii_only=output_wants_plain())
    lines = [f"Left where it is: {trouble}" for trouble in rebuilt.troubles]
    if rebuilt.takes:
        verdicts = counted(rebuilt.verdicts, "verdict")
        lines.append(f"{counted(rebuilt.takes, 'take')} with {verdicts} came from their files into {place}.")
    else:
        lines.append(f"Nothing new: {place} has every take that lies beside it and can be read.")
    for line in lines:
        print(theme.words(printable(line)))
    return 1 if rebuilt.troubles else 0


def _opened(arguments: Namespace) -> tuple[Store, str]:
    """The history; where it may only be read, or is not there yet, and nothing is to be written, for reading.

    Otherwise it is opened for writing even without ``--write``: only then what is damaged or cut off is put right. The
    text says why it could not be.
    """
    place = store_path(arguments)
    if arguments.write:
        return Store.open(place), ""
    if studio_address(place) is None and not is_there(store_place(place)):
        return Store.open(place, read_only=True), ""
    try:
        return Store.open(place), ""
    except StoreError as error:
        try:
            return Store.open(place, read_only=True), str(error)
        except StoreError:
            raise error from None


def _wanted(store: Store, arguments: Namespace) -> list[KeptTake]:
    if arguments.take is not None:
        kept = store.take(arguments.take)
        if arguments.drill and kept.info.drill != arguments.drill:
            raise StoreError(
                f"take {kept.id} is one of {kept.info.drill}, not of {echo(arguments.drill)}; leave one of them out"
            )
        if kept.finished_at is None:
            raise StoreError(f"take {kept.id} is still being played; judge it again when it is over")
        return [kept]
    # Free listening has no steps, so nothing was judged.
    kept_ones = [kept for kept in store.takes(arguments.drill or None) if kept.finished_at and kept.step_count]
    if arguments.drill and not kept_ones:
        known = ", ".join(store.drills()) or "nothing yet"
        raise StoreError(f"there are no takes of {echo(arguments.drill)}; there are some of: {known}")
    return kept_ones


def _free(store: Store, arguments: Namespace) -> list[KeptTake]:
    """Free takes that go with those that were judged: nothing in them is judged, but the chords that stood are counted
    by today's ears (:mod:`listener.history.vocabulary.free_takes`)."""
    takes = store.takes(arguments.drill or None) if arguments.take is None else ()
    return [kept for kept in takes if kept.finished_at and not kept.step_count]


def _document(outcomes: Iterable[RejudgedTake], troubles: Iterable[str]) -> dict[str, object]:
    rows = list(outcomes)
    return {
        "judged_by": __version__,
        "checked": len(rows),
        "changed": sum(bool(row.changes) for row in rows),
        "written": sum(row.written for row in rows),
        "troubles": list(troubles),
        "takes": [row.as_json() for row in rows if row.changes or row.trouble],
    }


def _report(outcomes: list[RejudgedTake], troubles: Iterable[str], waiting: list[str], *, is_new: bool) -> list[str]:
    lines = [f"Damage: {line}" for line in troubles]
    for outcome in outcomes:
        lines += _lines(outcome)
    changed = sum(bool(outcome.changes) for outcome in outcomes)
    failed = sum(bool(outcome.trouble) for outcome in outcomes)
    lines += waiting
    if not outcomes:
        none_yet = "No takes yet, so nothing to judge again."
        return [*lines, none_yet if is_new and not waiting else "Nothing in the history to judge again."]
    text = f"{counted(len(outcomes) - failed, 'take')} judged again: "
    text += f"{changed} with changes." if changed else "every verdict is the same."
    lines.append(text + (f" {counted(failed, 'take')} could not be." if failed else ""))
    if changed and not any(outcome.written for outcome in outcomes):
        lines.append("The history is as it was; --write keeps the new verdicts, and the old ones beside them.")
    elif changed:
        lines.append("The new verdicts are kept, and the old ones beside them.")
    return lines


def _waiting(takes: int, unfinished: int, refused: str, *, stuck: bool) -> list[str]:
    """What is said of takes that have no end yet; ``refused`` is why the history cannot be written."""
    if refused and not unfinished and not takes:
        return [f"The history can only be read, and has no takes: {refused}"]
    if not unfinished:
        return []
    what = f"{counted(unfinished, 'take')} {'is' if unfinished == 1 else 'are'} not finished"
    if stuck:
        return [f"{what}, and cannot be completed now; every verdict in the history is kept. {refused}".rstrip()]
    return [f"{what}: being played now. Every verdict is kept."]


def _lines(outcome: RejudgedTake) -> list[str]:
    info = outcome.kept.info
    name = f"take {outcome.kept.id} of {info.drill}, {info.started_at.astimezone():%Y-%m-%d %H:%M}"
    if outcome.trouble:
        return [f"{name}: cannot be judged again: {outcome.trouble}"]
    if not outcome.changes:
        return []
    steps = info.plan.get("steps", [])
    lines = [f"{name}, judged by {outcome.kept.judged_by}: {counted(len(outcome.changes), 'change')}"]
    for change in outcome.changes:
        chord = steps[change.step]["chord"] if change.step < len(steps) else "?"
        lines.append(
            f"  {change.step + 1:>3}  {chord}: {_short(change.before)} -> {_short(change.after)}{_other(change)}"
        )
    return lines


def _short(verdict: Verdict | None) -> str:
    """``near (an octave low)``."""
    if verdict is None:
        return "no stroke"
    again = f", try {verdict.attempt}" if verdict.attempt > 1 else ""
    faults = "; ".join(fault.text for fault in verdict.faults)
    return f"{verdict.grade}{again}{f' ({faults})' if faults else ''}"


def _other(change: VerdictChange) -> str:
    """Why it is so now, or what differs besides grade and faults, where these do not show it."""
    if change.why:
        return f": {change.why}"
    names = [name.replace("_", " ") for name in change.what if name not in ("grade", "faults", "attempt")]
    return f"; other {', '.join(names)}" if names else ""
