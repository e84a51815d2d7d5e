"""``widehand today``: minutes in, a plan out; with ``--start`` it is played."""

from __future__ import annotations

import shlex
import sys
from argparse import Namespace
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Final

from rich.console import Console

from listener.commands.json_out import print_json
from listener.commands.setup import guitar_of, hand_of, store_path
from listener.commands.today.step import TITLE, Offer, offer_of
from listener.commands.today.todays import WHY, Item, Today, choice_of, items_of, offer_with_file, with_files
from listener.errors import StoreError, UsageError
from listener.history.skills.reviews import PLAYER, SIMULATED
from listener.history.skills.standpoint import Standpoint
from listener.history.store.folders import todays_folder
from listener.history.store.store import Store
from listener.plain_words import capital
from listener.screen.day_view import DayRow, day_lines, show_day
from listener.screen.sparkline import output_wants_plain
from listener.screen.theme import Theme, to_ascii
from listener.screen.words import how_often
from listener.session.day.day import Day
from listener.session.day.plan import plan_day
from listener.session.rest import PAIN, rest_after
from listener.settings import load_settings

#: Columns when the output goes into a file or another program.
_PIPED_WIDTH: Final = 100
_FIRST_DAY: Final = "Welcome. Nothing is known about your playing yet, so this is where the course begins: no hurry."
_ONLY_FREE: Final = "So far you have played freely and no drill, so this is where the course begins: no hurry."
_DEMO_LEFT_OUT: Final = "Takes of the simulated guitarist are not yours and do not count here; with --demo they do."


def main(arguments: Namespace) -> int:
    """Plan; show it, or play it."""
    if arguments.fast and not (arguments.start and arguments.demo):
        raise UsageError("--fast is for the simulated guitarist: add --start --demo")
    with _opened(arguments) as store:
        for line in store.notes:
            print(line, file=sys.stderr)
        today = today_of(arguments, store, datetime.now(UTC))
        if arguments.start:
            from listener.commands.today.sitting import start

            return start(today, arguments, store)
    if arguments.json:
        print_json("today", today.as_json())
    else:
        _show(today, arguments)
    return 0


def today_of(arguments: Namespace, store: Store, now: datetime) -> Today:
    """The plan at this moment."""
    player = SIMULATED if arguments.demo else PLAYER
    known = store.standpoint(player, now)
    here, after_s = now.astimezone(), rest_after(arguments.rest_after)
    day = plan_day(choice_of(known, here), arguments.minutes, after_s)
    settings = load_settings()
    instrument, hand = guitar_of(arguments, settings), hand_of(arguments, settings)
    verb, options = _verb(arguments)
    place = todays_folder(store_path(arguments))
    items = items_of(day, known, store, instrument, hand, verb=verb, options=options)
    items = with_files(items, place, verb=verb, options=options)
    offer = offer_of(store, player, day, here, after_s, instrument, hand)
    offer = offer_with_file(offer, place, verb=verb, options=options)
    return Today(arguments.minutes, day, items, known, _notes(arguments, known, day, store, offer), offer)


def _opened(arguments: Namespace) -> Store:
    """The history, for writing where that can be: takes that ended without their reviews get them. Nothing is made."""
    place = store_path(arguments)
    if arguments.start:
        return Store.open(place)
    with Store.open(place, read_only=True) as looked_at:
        empty = not looked_at.begun
    if empty:
        return Store.open(place, read_only=True)
    try:
        return Store.open(place)
    except StoreError:
        return Store.open(place, read_only=True)


def _verb(arguments: Namespace) -> tuple[str, list[str]]:
    """The command that plays, and the options that go with it."""
    options: list[str] = []
    for name in ("tuning", "capo", "hand", "store"):
        value = getattr(arguments, name)
        if value is not None and value != "":
            options += [f"--{name}", str(value)]
    for name in ("easier", "left_handed"):
        if getattr(arguments, name):
            options.append(f"--{name.replace('_', '-')}")
    if not arguments.demo:
        for name in ("port", "pickup", "click"):
            if getattr(arguments, name):
                options += [f"--{name}", getattr(arguments, name)]
    return ("demo" if arguments.demo else "play"), options


def _notes(arguments: Namespace, known: Standpoint, day: Day, store: Store, offer: Offer | None) -> tuple[str, ...]:
    found = []
    if not known.drills:
        found.append(_ONLY_FREE if offer else _FIRST_DAY)
        if not arguments.demo and store.has_drills(SIMULATED):
            found.append(_DEMO_LEFT_OUT)
    if day.waiting:
        found.append(f"{day.waiting} more due: {_they(day.waiting)} can wait until tomorrow.")
    elif known.skills and not known.due and known.next_due:
        found.append(f"Nothing is due; the next is on {known.next_due.astimezone():%Y-%m-%d}.")
    return tuple(found)


def _they(count: int) -> str:
    return "it" if count == 1 else "they"


def _show(today: Today, arguments: Namespace) -> None:
    rows = rows_of(today.items)
    demo = ["--demo"] if arguments.demo else []
    start = shlex.join(["widehand", "today", "--minutes", str(today.minutes), *demo, "--start", *_verb(arguments)[1]])
    foot = [*today.notes, *(WHY if arguments.why else ()), f"To play it all now: {start}", PAIN]
    if not arguments.why:
        foot.insert(-1, "How it comes about: widehand today --why")
    offer = today.offer
    extra = (f"{TITLE}, if you like. {capital(offer.why)}.", offer.command) if offer else None
    head = f"Today, {today.planned:g} of {today.minutes} minutes"
    plain = output_wants_plain()
    if arguments.plain:
        for line in day_lines(rows, head, foot, extra):
            print(to_ascii(line))
        return
    width = None if sys.stdout.isatty() else _PIPED_WIDTH
    console = Console(file=sys.stdout, width=width, highlight=False, markup=False, emoji=False)
    show_day(rows, head, foot, console, Theme(ascii_only=plain), extra)


def rows_of(items: Sequence[Item]) -> list[DayRow]:
    """What is shown of each item."""
    found = []
    for item in items:
        slot = item.slot
        detail = f"{how_often(slot.times)} at {slot.tempo:g}" if slot.tempo is not None else ""
        found.append(DayRow(slot.minutes, slot.what, item.title, detail, slot.why, item.command))
    return found
