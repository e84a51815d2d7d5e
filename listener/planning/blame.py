"""Why no route goes through: the first step that cannot be reached, what forbids it, and the nearest thing that works.

What ties a step to the one before it has up to four parts: the motion of the top line, that of the bottom line, held
notes, and notes that stay under a new top one. To blame are the fewest of them that cannot be met, whatever becomes of
the others. To find what helps each is let go in turn, first at the step itself, then at the steps before it, the
nearest first; what lets the whole drill be played is named before what only gets further.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from listener.drill.drill import Step
from listener.errors import PlanError
from listener.music.pitch import spell
from listener.planning.routes.layers import FREE, Flags, Layer, Link, may_follow
from listener.planning.routes.network import Network
from listener.planning.wish_words import wish_words

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Pitches = NDArray[np.int64]
else:
    Pitches = Any

#: The graph for other links over the same candidates.
Retie = Callable[[Sequence[Link]], Network]
#: Steps back from the one that cannot be reached at which something is let go, and how many of the things that help
#: are followed up to see which lets the whole drill be played (our choices: they bound the time).
_STEPS_BACK: Final = 16
_FOLLOWED_UP: Final = 4
_PARTS: Final = ("top", "bottom", "hold", "under")


def why_no_route(steps: Sequence[Step], retie: Retie) -> PlanError:
    """The error for a drill whose links exclude every route."""
    links = [Link.of(step) for step in steps]
    reached = _reached(retie(links))
    lost = len(reached)
    step = steps[lost]
    parts = _blamed(links[lost], lost, retie, links)
    about = _facts(retie(links), steps[: lost + 1], reached, parts) if lost else _conflict(links[lost])
    whose = f"cannot follow step {steps[lost - 1].index + 1}" if lost else "cannot be played"
    text = f"{place(step)}: {wish_words(step.wish)} {whose}: {about}; {_remedy(steps, links, lost, retie)}"
    return PlanError(text, step=step.index + 1)


def place(step: Step) -> str:
    """A step as players count it."""
    return f"step {step.index + 1} (bar {step.bar}, beat {step.beat:g})"


def _reached(network: Network, upto: int | None = None) -> list[Flags]:
    """For every layer which candidates can be reached from the start; it ends before the first with none."""
    found: list[Flags] = []
    for index, layer in enumerate(network.layers[:upto]):
        here: Flags = np.ones(len(layer), dtype=bool)
        if index and network.links[index].among_changes:
            allowed = may_follow(network.layers[index - 1], layer, network.links[index])
            here = np.any(allowed[found[-1]], axis=0)
        if not here.any():
            break
        found.append(here)
    return found


def _without(links: Sequence[Link], index: int, parts: Sequence[str]) -> list[Link]:
    let_go = {part: getattr(FREE, part) for part in parts}
    return [*links[:index], replace(links[index], **let_go), *links[index + 1 :]]


def _said(link: Link) -> tuple[str, ...]:
    """The parts of a link that say anything."""
    return tuple(part for part in _PARTS if getattr(link, part) != getattr(FREE, part))


def _blamed(link: Link, lost: int, retie: Retie, links: Sequence[Link]) -> tuple[str, ...]:
    """The fewest parts that leave no way to the step, whatever becomes of the others."""
    said = _said(link)
    for number in range(1, len(said)):
        for parts in combinations(said, number):
            others = [part for part in said if part not in parts]
            if len(_reached(retie(_without(links, lost, others)), lost + 1)) <= lost:
                return parts
    return said


def _remedy(steps: Sequence[Step], links: Sequence[Link], lost: int, retie: Retie) -> str:
    """The nearest part that can be let go, and how far one then gets."""
    farthest, where, what, helped = lost, lost, _said(links[lost]), 0
    for index, parts in _nearest(links, lost):
        far = len(_reached(retie(_without(links, index, parts))))
        helped += far > lost
        if far > farthest:
            farthest, where, what = far, index, parts
        if far == len(steps) or helped == _FOLLOWED_UP:
            break
    words = f"without {' and '.join(_name(part, links[where]) for part in what)} of step {steps[where].index + 1}"
    if farthest == len(steps):
        return f"{words} the whole drill can be played"
    return f"{words} it can be played as far as step {steps[farthest - 1].index + 1}"


def _nearest(links: Sequence[Link], lost: int) -> Iterator[tuple[int, tuple[str, ...]]]:
    """Single parts from the lost step backward, then all of that step's parts at once."""
    for index in range(lost, max(-1, lost - _STEPS_BACK), -1):
        yield from ((index, (part,)) for part in _said(links[index]))
    yield lost, _said(links[lost])


def _name(part: str, link: Link) -> str:
    if part == "under":
        return "the notes that stay under the top one"
    if part == "hold":
        return "the held notes" if len(link.hold) > 1 else "the held note"
    return f"the '{getattr(link, part)}' {'on top' if part == 'top' else 'at the bottom'}"


def _conflict(link: Link) -> str:
    return f"no shape has both {_name('top', link)} and {_name('bottom', link)}"


def _facts(network: Network, steps: Sequence[Step], reached: Sequence[Flags], parts: Sequence[str]) -> str:
    """What the step before leaves and what this one, the last of ``steps``, has, for the parts to blame."""
    lost = len(steps) - 1
    before, after, link = network.layers[lost - 1], network.layers[lost], network.links[lost]
    if not len(after):
        return _conflict(link)
    if len(parts) > 1:
        return " and ".join(_name(part, link) for part in parts) + " do not go together"
    here = reached[lost - 1]
    if parts == ("under",):
        return "no shape of the step before can keep all its notes under this one"
    if parts == ("hold",):
        return _about_hold(before, after, link.hold, here, steps)
    top = parts == ("top",)
    motion = (link.top if top else link.bottom) or ""
    if motion not in _MOTION_WORDS:
        return f"{_name(parts[0], link)} leaves nothing that could follow"
    old, new = (before.top[here], after.top) if top else (before.bottom[here], after.bottom)
    line = "top note" if top else "lowest note"
    left, had = _range(old, steps), _range(new, steps)
    return (
        f"its {line} has to {_MOTION_WORDS[motion]}, but it can be {had} and step {steps[-2].index + 1} leaves {left}"
    )


_MOTION_WORDS: Final = {
    "up": "go up",
    "down": "go down",
    "same": "stay the same",
    "keep": "stay where it can",
}


def _range(notes: Pitches, steps: Sequence[Step]) -> str:
    low, high = int(notes.min()), int(notes.max())
    return _named(low, steps) if low == high else f"{_named(low, steps)} to {_named(high, steps)}"


def _named(note: int, steps: Sequence[Step]) -> str:
    """A note as the chords round about spell it."""
    if not 0 <= note <= 127:
        return f"note {note}"
    for step in reversed(steps[-2:]):
        tone = step.wish.chord.tone_of(note)
        if tone is not None:
            return str(tone.pitch(note))
    return str(spell(note))


def _about_hold(before: Layer, after: Layer, hold: Sequence[int], here: Flags, steps: Sequence[Step]) -> str:
    """Which held note is missing, and on which side."""
    old = {note for index in np.flatnonzero(here) for note in before.fingering(int(index)).pitches}
    new = {note for fingering in after.fingerings for note in fingering.pitches}
    for note in hold:
        if note not in old:
            return f"{_named(note, steps)} is to be held, but step {steps[-2].index + 1} does not sound it"
        if note not in new:
            return f"{_named(note, steps)} is to be held, but no shape here has it"
    names = " and ".join(_named(note, steps) for note in hold)
    return f"{names} cannot be held: no shape here has {'them' if len(hold) > 1 else 'it'} in the same place"
