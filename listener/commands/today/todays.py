"""What ``widehand today`` chooses from and hands out: pieces from history and course, drills written for today.

Those that were written lie beside the history, in a folder ``today``, so that they can be played by themselves too.
"""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Final

from listener.commands.drills.facts import ago
from listener.commands.today.step import NAME as STEP_NAME
from listener.commands.today.step import Offer
from listener.drill.drill import Drill
from listener.drill.drill_file import bundled_drills, load_drill, read_drill
from listener.drill.making.skill_drill import Shape, skill_drill
from listener.drill.own_drills import own_drill_files
from listener.errors import WidehandError
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.history.skills.memory import HONEST_NOTE
from listener.history.skills.skills import is_change, kind_of
from listener.history.skills.standpoint import KnownSkill, PlayedDrill, Standpoint
from listener.history.store.store import Store
from listener.planning.planner import plan_drill
from listener.session.day.day import CHANGES, REST, Choice, Day, DueSkill, Piece, Slot

#: So many drills of the course that were not played yet are looked at: on the first day, and later.
_FRESH_FIRST, _FRESH = 3, 1
#: A new drill begins at this share of its tempo; one that went worse than this, or was never played to its end, comes
#: slower. Our own choice.
_NEW_TEMPO: Final = 0.8
_ROUGH, _SLOWER = 0.7, 0.85
#: Minutes to breathe between two takes.
_BREATH: Final = 0.15
#: How a plan comes about, for who asks.
WHY: Final = (
    "How it comes about: every take says how each shape and each change in it went (not yet, shaky, well, with ease), "
    "and from that follows when it is due. An easy stretch comes first, then what is due, changes that stuck lately, "
    "and something new when little is due; kinds of voicing are mixed, and rests lie between.",
    HONEST_NOTE,
)
_TITLES: Final = {True: "The changes that stick", False: "Shapes that are due"}


@dataclass(frozen=True)
class Item:
    """A slot of the day with what is needed to play it: the name of its drill, the drill's text when it was written for
    today, and the command line; empty where the player needs none."""

    slot: Slot
    title: str
    drill: str = ""
    text: str = ""
    command: str = ""

    def as_json(self) -> dict[str, object]:
        """One entry of ``items``."""
        slot = self.slot
        return {
            "what": slot.what,
            "minutes": slot.minutes,
            "title": self.title,
            "drill": self.drill or None,
            "times": slot.times,
            "tempo": slot.tempo,
            "why": slot.why,
            "skills": list(slot.skills),
            "command": self.command or None,
            "text": self.text or None,
        }


@dataclass(frozen=True)
class Today:
    """Everything that is told about a day. ``minutes`` are those that there are; the ``offer`` is no part of them."""

    minutes: int
    day: Day
    items: tuple[Item, ...]
    known: Standpoint
    notes: tuple[str, ...] = ()
    offer: Offer | None = None

    def as_json(self) -> dict[str, object]:
        """The document that ``widehand today --json`` prints."""
        known = self.known
        return {
            "minutes": self.minutes,
            "planned_minutes": self.planned,
            "skills": known.skills,
            "due": len(known.due),
            "weak_changes": len(known.weak),
            "waiting": self.day.waiting,
            "next_due": known.next_due.isoformat() if known.next_due else None,
            "items": [item.as_json() for item in self.items],
            "one_step": self.offer.as_json() if self.offer else None,
            "notes": [*self.notes, *WHY],
        }

    @property
    def planned(self) -> float:
        """Minutes of all items."""
        return sum(item.slot.minutes for item in self.items)


def choice_of(known: Standpoint, now: datetime) -> Choice:
    """What there is to choose from, as the planner of the day wants it; days are those of the time zone of ``now``."""
    course, own = bundled_drills(), own_drill_files()
    names = {drill.drill for drill in known.drills}
    new = [name for name in course if name not in names][: _FRESH if names else _FRESH_FIRST]
    return Choice(
        due=tuple(map(_due, known.due)),
        weak=tuple(map(_due, known.weak)),
        played=tuple(_played(drill, now) for drill in known.drills if drill.drill in course or drill.drill in own),
        fresh=tuple(_fresh(load_drill(name)) for name in new),
    )


def _due(skill: KnownSkill) -> DueSkill:
    return DueSkill(skill.key, skill.urgency, "changes" if is_change(skill.key) else kind_of(skill.key))


def _played(drill: PlayedDrill, now: datetime) -> Piece:
    tempo = drill.tempo or drill.drill_tempo or 60.0
    account = drill.account
    if not account.complete or account.share < _ROUGH:
        tempo = max(20.0, float(round(_SLOWER * tempo)))
    kinds = sorted({kind_of(key) for key in drill.covers if not is_change(key)})
    minutes = _minutes(drill.beats, tempo)
    told = "" if account.complete else f"not played to its end yet: {account.how_far}"
    last = drill.played_at.astimezone(now.tzinfo)
    when = ago(last, now) if last.date() < now.date() else ""
    return Piece(drill.drill, drill.title, minutes, tempo, ", ".join(kinds), drill.strain, drill.covers, told, when)


def _fresh(drill: Drill) -> Piece:
    tempo = max(20.0, float(round(_NEW_TEMPO * drill.tempo)))
    beats = max((step.start_beats + step.length_beats for step in drill.steps), default=0.0)
    kinds = sorted({kind for step in drill.steps for kind in step.wish.kinds})
    return Piece(drill.name, drill.title, _minutes(beats, tempo), tempo, ", ".join(kinds), 0.1 * drill.difficulty)


def _minutes(beats: float, tempo: float) -> float:
    """Once through, with a bar counted in and a breath."""
    return (beats + 4.0) / tempo + _BREATH


def items_of(
    day: Day, known: Standpoint, store: Store, instrument: Instrument, hand: Hand, *, verb: str, options: Sequence[str]
) -> tuple[Item, ...]:
    """The slots with their drills and commands. ``verb`` is ``play`` or ``demo``, ``options`` go onto every command.

    A slot whose drill nobody could write (shapes that cannot be asked for by themselves) is left out.
    """
    skills = {skill.key: skill for skill in (*known.weak, *known.due)}
    found: list[Item] = []
    for number, slot in enumerate(day.slots, 1):
        if slot.piece is not None:
            often = ["--times", str(slot.times)] if slot.times > 1 else []
            words = [verb, slot.piece.drill, "--tempo", f"{slot.tempo:g}", *often, *options]
            found.append(Item(slot, slot.piece.title, slot.piece.drill, "", _command(words)))
        elif slot.skills:
            text = _written(slot, [skills[key] for key in slot.skills], store, instrument, hand)
            if text is not None:
                name = "today-changes" if slot.what == CHANGES else f"today-shapes-{number}"
                found.append(Item(slot, _TITLES[slot.what == CHANGES], name, text))
        else:
            found.append(Item(slot, "Rest" if slot.what == REST else "Your own"))
    while found and found[-1].slot.what == REST:
        found.pop()
    return tuple(found)


def with_files(items: Sequence[Item], place: Path, *, verb: str, options: Sequence[str]) -> tuple[Item, ...]:
    """Lay down the drills that were written for today, so that each has a command; where nothing may be written, they
    can still be played with ``--start``."""
    return tuple(
        replace(item, command=_laid_down(item.drill, item.text, place, verb, options)) if item.text else item
        for item in items
    )


def offer_with_file(offer: Offer | None, place: Path, *, verb: str, options: Sequence[str]) -> Offer | None:
    """The same for the offer; the drill of another day goes."""
    if offer is None:
        with suppress(OSError):
            (place / f"{STEP_NAME}.toml").unlink(missing_ok=True)
        return None
    return replace(offer, command=_laid_down(STEP_NAME, offer.text, place, verb, options))


def _laid_down(drill: str, text: str, place: Path, verb: str, options: Sequence[str]) -> str:
    """The command for a drill that is written into this folder; empty where that cannot be."""
    path = place / f"{drill}.toml"
    try:
        place.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    except OSError:
        return ""
    return _command([verb, str(path), *options])


def load_item(item: Item) -> Drill:
    """The drill of an item; :class:`WidehandError` when it is there no more."""
    return read_drill(item.text, item.drill) if item.text else load_drill(item.drill)


def _written(slot: Slot, skills: Sequence[KnownSkill], store: Store, instrument: Instrument, hand: Hand) -> str | None:
    """A drill for these skills, of those that can be asked for and played on this guitar."""
    title = _TITLES[slot.what == CHANGES]
    good: list[Sequence[Sequence[Shape]]] = []
    for skill in skills:
        group = store.examples(skill)
        text = skill_drill([group], title=title)
        with suppress(WidehandError):
            if text is not None:
                plan_drill(read_drill(text, "today"), instrument, hand)
                good.append(group)
    return skill_drill(good, title=title, about=f"Written for today: {slot.why}.")


def _command(words: Sequence[str]) -> str:
    return shlex.join(["widehand", *words])
