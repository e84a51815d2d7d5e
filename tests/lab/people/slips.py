"""What goes wrong under a hand: the program's own slips and some more."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from random import Random
from typing import Final

from listener.simulation import slips as known
from listener.simulation.slips import Place, slipped

Slip = Callable[[tuple[Place, ...], Sequence[int], Random], Sequence[Place] | None]

_HIGHEST_FRET: Final = 20


def neighbouring_fret(meant: tuple[Place, ...], _open: Sequence[int], random: Random) -> list[Place] | None:
    """An inner voice a fret too low or too high."""
    if len(meant) < 3:
        return None
    return _moved(meant, random.randrange(1, len(meant) - 1), random.choice((-1, 1)))


def wrong_bass(meant: tuple[Place, ...], _open: Sequence[int], random: Random) -> list[Place] | None:
    """The lowest voice a fret or two away."""
    return _moved(meant, 0, random.choice((-2, -1, 1, 2))) if len(meant) > 1 else None


def _moved(meant: tuple[Place, ...], index: int, away: int) -> list[Place] | None:
    string, fret, pitch = meant[index]
    if not 0 <= fret + away <= _HIGHEST_FRET:
        return None
    return [*meant[:index], (string, fret + away, pitch + away), *meant[index + 1 :]]


def wrong_string(meant: tuple[Place, ...], open_strings: Sequence[int], random: Random) -> list[Place] | None:
    """A finger lands on the neighbouring string: that one sounds at its fret, and its own string open if the right
    hand plucks it all the same."""
    used = {string for string, _, _ in meant}
    ways = [
        (index, string + away)
        for index, (string, fret, _) in enumerate(meant)
        for away in (-1, 1)
        if fret and 1 <= string + away <= len(open_strings) and string + away not in used
    ]
    if not ways:
        return None
    index, there = random.choice(ways)
    string, fret, _ = meant[index]
    rest = [*meant[:index], *meant[index + 1 :], (there, fret, open_strings[there - 1] + fret)]
    if random.random() < 0.4:
        rest.append((string, 0, open_strings[string - 1]))
    return rest


def muted_inside(meant: tuple[Place, ...], _open: Sequence[int], random: Random) -> list[Place] | None:
    """A finger leans on an inner string, which does not sound."""
    if len(meant) < 3:
        return None
    gone = random.randrange(1, len(meant) - 1)
    return [*meant[:gone], *meant[gone + 1 :]]


def two_missing(meant: tuple[Place, ...], _open: Sequence[int], random: Random) -> list[Place] | None:
    """Two strings do not sound."""
    if len(meant) < 4:
        return None
    gone = set(random.sample(range(len(meant)), 2))
    return [place for index, place in enumerate(meant) if index not in gone]


def one_fret_off(meant: tuple[Place, ...], _open: Sequence[int], random: Random) -> list[Place] | None:
    """The right shape a fret too low or too high, every tone of it."""
    frets = [fret for _, fret, _ in meant]
    ways = [away for away in (-1, 1) if min(frets) + away >= 0 and max(frets) + away <= _HIGHEST_FRET]
    if not ways:
        return None
    away = random.choice(ways)
    return [(string, fret + away, pitch + away) for string, fret, pitch in meant]


def _known(name: str) -> Slip:
    def slip(meant: tuple[Place, ...], open_strings: Sequence[int], random: Random) -> Sequence[Place] | None:
        return slipped(name, meant, open_strings, random)

    return slip


SLIPS: Final[dict[str, Slip]] = {
    **{name: _known(name) for name in known.SLIPS if name != known.LATE},
    "neighbouring fret": neighbouring_fret,
    "wrong bass": wrong_bass,
    "wrong string": wrong_string,
    "muted inside": muted_inside,
    "two tones missing": two_missing,
    "one fret off": one_fret_off,
}


#: What can go wrong with a grip that was right a moment ago.
SMALL: Final = (known.DROPPED, known.EXTRA, "neighbouring fret", "muted inside")


def draw_slip(
    meant: tuple[Place, ...],
    open_strings: Sequence[int],
    random: Random,
    is_right: Callable[[Sequence[Place]], bool],
    *,
    unlike: Sequence[tuple[Place, ...]] = (),
    kinds: Sequence[str] = tuple(SLIPS),
) -> tuple[Place, ...] | None:
    """The chord with some slip that spoils it, none of ``unlike``; None where nothing can go wrong."""
    names = random.sample(kinds, len(kinds))
    for name in names:
        places = SLIPS[name](meant, open_strings, random)
        if places is None:
            continue
        found = tuple(sorted(places, key=lambda place: place[2]))
        if found and found not in unlike and not is_right(found):
            return found
    return None
