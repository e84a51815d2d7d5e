"""Whose chord a stroke is: a hidden Markov model of somebody who practises.

At each stroke the player is at a step, in a wrong attempt at it, in a fill above it, or elsewhere (noodling, tuning).
What each stroke and each change from one of these to another costs stands in :mod:`listener.following.prices`; the
cheapest way through all strokes so far says where the player is (Viterbi's algorithm). A stroke's place is *settled*
when every other way that puts it elsewhere costs much more, or by silence, or when many strokes came after it. See
``docs/follower.md``.

Time and notes are whole numbers here, so that every machine comes to the same places, and nothing depends on how often
anybody asks. A stroke costs time in proportion to the number of steps.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt

from listener.following import prices
from listener.following.prices import NEVER, price
from listener.following.scores import Fit, Scores, Wanted

#: What the player was doing.
AT: Final = "at"
WRONG: Final = "wrong"
FILL: Final = "fill"
ELSEWHERE: Final = "elsewhere"
_KINDS: Final = (AT, WRONG, FILL)

Numbers = npt.NDArray[np.int64]

Flags = npt.NDArray[np.bool_]

#: Bits for the number of a state beside a price: two million states.
_BITS: Final = 21
#: Going back by so many steps is no jump.
_NEAR: Final = 3


@cache
def _prices_by_ms() -> tuple[Numbers, Numbers, Numbers]:
    """The tables of :mod:`listener.following.prices`: for coming early, late, and for going on. Made once, as there is
    a follower for every take that is judged again."""
    return _kept(prices.early_prices()), _kept(prices.late_prices()), _kept(prices.entering_prices())


@cache
def _tones_of() -> Numbers:
    """Of each set of tones, as bits, how many it has."""
    return _kept([bin(tones).count("1") for tones in range(1 << 12)])


def _kept(table: list[int]) -> Numbers:
    found = np.array(table, dtype=np.int64)
    found.setflags(write=False)
    return found


@dataclass(frozen=True, slots=True)
class StrokePlace:
    """Where a stroke belongs: ``step`` is None elsewhere."""

    step: int | None
    doing: str


@dataclass(frozen=True, slots=True)
class Sound:
    """A stroke as the follower hears it: when it began, in ms, the pitches plucked, those that rang on, and those that
    rang when it began (MIDI)."""

    onset_ms: int
    struck: tuple[int, ...]
    ringing: tuple[int, ...] = ()
    rang: tuple[int, ...] = ()


@dataclass(slots=True)
class _Ways:
    """The cheapest way to each state: its price, the tones heard so far of the chord that it is at, when it came to
    that chord and how many strokes since had something else; and, for each stroke that is not settled, which state the
    way had then. ``left`` is the step that the way elsewhere came from, and whether its chord was complete."""

    price: Numbers
    tones: Numbers
    since_ms: Numbers
    foreign: Numbers
    came_by: list[Numbers]
    left: int
    left_complete: bool = True


@dataclass(slots=True)
class _Costs:
    """What it costs to stay at each step, to go ``on`` from it, and to fill above it; from a wrong attempt at it, to be
    wrong ``again``, ``right_now``, or to go ``on_from_wrong``; a fill after a wrong attempt and one after a fill; to
    leave for elsewhere, and what any jump costs besides."""

    stay: Numbers
    on: Numbers
    to_fill: Numbers
    again: Numbers | int
    right_now: Numbers | int
    on_from_wrong: Numbers | int
    wrong_to_fill: int
    more_fill: int
    leaving: int
    far: int


class Follower:
    """Strokes in, places out. ``lengths_ms`` is how long each step is at the drill's own tempo; ``broken`` where each
    chord is asked for note by note."""

    def __init__(self, wanted: Sequence[Wanted], lengths_ms: Sequence[int], *, broken: bool = False) -> None:
        self._broken = broken
        self._count = count = len(wanted)
        self._scores = Scores(wanted, by_pitch=broken)
        self._early, self._late, self._entering = _prices_by_ms()
        chords = self._scores.chord_of
        #: Whether the step after each is the same chord again.
        self._same_next = np.zeros(count, dtype=bool)
        self._same_next[:-1] = chords[:-1] == chords[1:]
        self._any_same = bool(self._same_next.any())
        #: Where each run of equal chords begins.
        self._runs = np.flatnonzero(np.append(True, ~self._same_next[:-1]))
        #: Where going on too soon loses nothing: the last chord is the one before once more.
        self._not_last = np.arange(count) < count - 2
        #: What the top costs more where its chord is due nearby as well.
        near = [chords[max(0, step - _NEAR) : step + 2] for step in range(count)]
        self._nearer_top = np.array([prices.NEARER * bool((one == chords[0]).any()) for one in near], dtype=np.int64)
        self._lengths_ms = np.array(lengths_ms, dtype=np.int64)
        self._tones_of = _tones_of()
        self._tone_count = self._tones_of[self._scores.whole]
        self._steps = np.arange(count, dtype=np.int64)
        self._states = np.arange(3 * count + 1, dtype=np.int64)
        self._any_step_on = price(prices.ANY_STEP_ON / max(1, count))
        self._any_step_back = price(prices.ANY_STEP_BACK / max(1, count))
        self._anywhere_on = price(prices.ANYWHERE_ON / max(1, count))
        self._anywhere_back = price(prices.ANYWHERE_BACK / max(1, count))
        self._due_any = price(prices.DUE_ANY / max(1, count))
        self._due_ms: Numbers | None = None
        self._allowed: tuple[int, int] | None = None
        self._start: int | None = 0
        self._pending = 0
        self._before: Sound | None = None
        self._peeked: tuple[Sound, _Ways] | None = None
        #: How long the player takes for what the drill has in a second, in thousandths.
        self.pace_permille = 1000
        self._ways = self._nowhere()
        signs = (prices.BROKEN_RINGS, prices.BROKEN_RISES) if broken else (prices.RINGS, prices.SOON_AFTER)
        most = prices.NEVER if broken else prices.MOST_FOR_A_SIGN
        self._signs = [_Sign(*sign, most) for sign in signs]
        #: Of each stroke that is not settled, what the signs were, and whether it went on with a roll.
        self._shown: list[tuple[tuple[bool, ...], bool]] = []
        self._last_place: StrokePlace | None = None
        #: Which chords were right, and where to go on after those: at one that was not, nor any soon after it.
        self._been = np.zeros(count, dtype=bool)
        self._edges = np.zeros(count, dtype=bool)
        self._in_a_roll = _Share(*prices.CHANGES_IN_A_ROLL)
        self._leaves = {True: _Share(*prices.LEAVES_ONE), False: _Share(*prices.LEAVES)}
        self._on_after_wrong = _Share(*prices.ON_AFTER_WRONG)
        self._back_after_wrong = _Share(*prices.BACK_AFTER_WRONG)
        self._top_after_wrong = _Share(*prices.TOP_AFTER_WRONG)

    def _nowhere(self) -> _Ways:
        states = 3 * self._count + 1
        zeros = np.zeros(self._count, dtype=np.int64)
        foreign = np.zeros(states, dtype=np.int64)
        return _Ways(np.full(states, NEVER, dtype=np.int64), zeros, zeros.copy(), foreign, [], 0)

    def _foreign(self, fit: Fit) -> Numbers:
        """Of each state, whether a stroke has something else than its chord."""
        return np.append(np.tile(~fit.clean, 3), False).astype(np.int64)

    # What is known beside the strokes -------------------------------------------------------------------------

    def go_to(self, step: int) -> None:
        """The player goes on with this step; what was before no longer matters. Nothing may be unsettled."""
        self._start = step
        self._ways = self._nowhere()
        self._ways.left = step - 1
        self._pending = 0
        self._before = self._peeked = None
        self._shown.clear()
        self._last_place = None

    def with_click(self, due_ms: Sequence[int] | None) -> None:
        """When each step is due, and the end of the last (one more than steps); None at the player's own pace."""
        self._due_ms = None if due_ms is None else np.array(due_ms, dtype=np.int64)
        self._peeked = None

    def only(self, first: int, last: int) -> None:
        """From now on the player is at one of these steps, or elsewhere: nobody goes on before it is right."""
        self._allowed = (first, last)
        self._peeked = None

    def learn_right(self, step: int) -> None:
        """This step's chord was right: the player has come so far."""
        if not self._been[step]:
            self._been[step] = True
            ahead = np.convolve(self._been, np.ones(_NEAR + 1, dtype=np.int64))[_NEAR:]
            self._edges[1:] = self._been[:-1] & (ahead[1:] == 0)
            self._peeked = None

    def learn_after_right(self, step: int, *, one: bool, leaves: bool) -> None:
        """After a chord that was right came one note, or several, and those were the next chord's, or not."""
        if self._tells_next(step):
            self._leaves[one].add(leaves)

    def learn_after_wrong(self, step: int, to: int) -> None:
        """After a chord that was wrong the player went from its step to that one."""
        if self._tells_next(step):
            top = to == 0 and step > _NEAR
            self._on_after_wrong.add(to > step)
            self._back_after_wrong.add(to < step and not top)
            self._top_after_wrong.add(top)

    def _tells_next(self, step: int) -> bool:
        """Whether there is a next step, and its notes are others."""
        return step + 1 < self._count and not self._same_next[step]

    # Strokes --------------------------------------------------------------------------------------------------

    @property
    def pending(self) -> int:
        """How many strokes are not settled."""
        return self._pending

    def feed(self, sound: Sound) -> None:
        """A stroke that is over."""
        self._ways = self._after(sound)
        self._peeked = None
        self._shown.append((self._signs_at(sound), self._rolls_on(sound)))
        self._before = sound
        self._pending += 1
        self._start = None

    def peek(self, sound: Sound) -> StrokePlace:
        """Where a stroke would belong that is not over yet, by what is known so far."""
        return self._place(int(self._after(sound).price.argmin()))

    def places(self) -> list[StrokePlace]:
        """Where the strokes that are not settled belong, by what is known so far."""
        best = int(self._ways.price.argmin())
        return [self._place(int(states[best])) for states in self._ways.came_by]

    def settle(self, margin: int = prices.SURE, most: int = prices.HEARD_OUT) -> list[StrokePlace]:
        """The places of the oldest strokes that are certain by this margin, or are so many strokes ago."""
        found: list[StrokePlace] = []
        ways = self._ways
        best = int(ways.price.argmin()) if self._pending else 0
        while self._pending:
            states = ways.came_by[0]
            mine = int(states[best])
            same = self._step_of(states) == self._step_of(states[best : best + 1])
            others = ways.price[~same]
            if self._pending <= most and len(others) and int(others.min()) < int(ways.price[best]) + margin:
                break
            ways.price[~same] = NEVER
            self._peeked = None
            del ways.came_by[0]
            self._pending -= 1
            found.append(self._place(mine))
            self._learn(found[-1], *self._shown.pop(0))
        return found

    def _signs_at(self, sound: Sound) -> tuple[bool, ...]:
        """Whether strings of the stroke before rang when this one began, and whether it is higher than that."""
        before = self._before
        if before is None:
            return False, False
        rings = not set(before.struck).isdisjoint(sound.rang)
        if self._broken:
            return rings, sound.struck[-1] > before.struck[-1]
        return rings, sound.onset_ms - before.onset_ms < prices.SOON_AFTER_MS

    def _rolls_on(self, sound: Sound) -> bool:
        """Whether this is the next string of the same movement of the hand: it comes at once, and the last one rings.
        With the click, and where each chord is asked for note by note, a change may be as quick."""
        before = self._before
        if before is None or self._broken or self._due_ms is not None or len(sound.struck) + len(before.struck) > 2:
            return False
        return sound.onset_ms - before.onset_ms < prices.ROLLS_MS and before.struck[0] in sound.rang

    def _learn(self, place: StrokePlace, shown: tuple[bool, ...], rolls: bool) -> None:
        last, self._last_place = self._last_place, place
        if last is None or last.step is None or place.step is None:
            return
        for sign, so in zip(self._signs, shown, strict=True):
            sign.add(so, stays=place.step == last.step)
        if rolls:
            self._in_a_roll.add(place.step != last.step)

    # Inside ---------------------------------------------------------------------------------------------------

    def _place(self, state: int) -> StrokePlace:
        if state >= 3 * self._count:
            return StrokePlace(None, ELSEWHERE)
        return StrokePlace(state % self._count, _KINDS[state // self._count])

    def _step_of(self, states: Numbers) -> Numbers:
        return np.where(states >= 3 * self._count, -1, states % max(1, self._count))

    def _after(self, sound: Sound) -> _Ways:
        """The ways with one more stroke. The last string of a stroke makes it what it is when it closes: that is not
        worked out twice."""
        if self._peeked is None or self._peeked[0] != sound:
            self._peeked = (sound, self._with(sound))
        return self._peeked[1]

    def _with(self, sound: Sound) -> _Ways:
        before = self._before
        line = before is not None and len(before.struck) < 3 and sound.onset_ms - before.onset_ms < prices.LINE_MS
        fit = self._scores.fit(sound.struck, sound.ringing, before.struck if before is not None and line else ())
        off = self._off_time(sound.onset_ms)
        found, source = self._first(self._start) if self._start is not None else self._moved(sound, fit)
        count = self._count
        found[:count] += fit.at + off
        found[count : 2 * count] += fit.wrong + off
        found[2 * count : 3 * count] += fit.fill + off
        found[3 * count] += fit.elsewhere
        if self._allowed is not None:
            first, last = self._allowed
            outside = (self._steps < first) | (self._steps > last)
            found[: 3 * count][np.tile(outside, 3)] = NEVER
        np.minimum(found, NEVER, out=found)
        lowest = int(found.min())
        if lowest < NEVER:
            found -= lowest  # only differences matter, and sums must not grow without end
            np.minimum(found, NEVER, out=found)
        return self._remembered(found, source, fit, sound)

    def _off_time(self, onset_ms: int) -> Numbers | int:
        if self._due_ms is None:
            return 0
        most = len(self._early) - 1
        early_ms = np.clip(self._due_ms[:-1] - onset_ms, 0, most)
        late_ms = np.clip(onset_ms - self._due_ms[1:] + prices.NEARLY_MS, 0, most)
        return self._early[early_ms] + self._late[late_ms]

    def _entering_at(self, onset_ms: int) -> Numbers:
        """The price of going on to each step now."""
        if self._due_ms is None:
            return np.zeros(self._count, dtype=np.int64)
        price: Numbers = self._entering[np.minimum(np.abs(self._due_ms[:-1] - onset_ms), len(self._entering) - 1)]
        return price

    def _first(self, due: int) -> tuple[Numbers, Numbers]:
        """The prices of beginning at each state."""
        count = self._count
        found = np.full(3 * count + 1, NEVER, dtype=np.int64)
        found[:count] = self._due_any if self._due_ms is None else prices.DUE_ANY_BY_CLICK
        if self._due_ms is not None:
            found[count : 2 * count] = prices.DUE_WRONG + prices.DUE_ANY_BY_CLICK
        if due < count:
            found[due] = prices.DUE
            found[count + due] = prices.DUE_WRONG
        found[3 * count] = prices.DUE_ELSEWHERE
        return found, np.full(3 * count + 1, -1, dtype=np.int64)

    def _moved(self, sound: Sound, fit: Fit) -> tuple[Numbers, Numbers]:
        """The least price of coming to each state, and from which state.

        A price and the number of the state that it is paid from are packed into one number, so that the least of
        several has both; of equal prices the state with the lower number wins.
        """
        count, ways = self._count, self._ways
        packed = (ways.price << _BITS) + self._states
        at, wrong, fill, away = np.split(packed, (count, 2 * count, 3 * count))
        complete = self._tones_of[ways.tones] == self._tone_count
        # What both cost falls out: only a new grip is made dearer or cheaper, and being elsewhere by half of that.
        signs = [sign.price_of_going(so) for sign, so in zip(self._signs, self._signs_at(sound), strict=True)]
        rolls = self._in_a_roll.price(True) if self._rolls_on(sound) else 0
        going = sum(signs) + rolls
        # A hand that begins at its first string again need not have gone on, where the chord is over.
        anew = min(0, signs[1])
        costs = self._costs_broken(complete, anew) if self._broken else self._costs(sound, complete)
        if len(sound.struck) > 1:
            costs.right_now += going  # the hand let go; a single string may as well go on with the same attempt
            was_right = complete & (ways.foreign[:count] == 0)
            costs.stay += np.where(was_right & ~fit.clean, prices.AGAIN_SPOILT, 0)
        enter = (self._entering_at(sound.onset_ms) + going) << _BITS
        far = np.where(fit.tones == self._scores.whole, 0, prices.FAR_PART) + costs.far
        best = int(packed[: 3 * count].min())
        anywhere = best + ((self._anywhere_from(best) + far + going) << _BITS)
        from_away = int(away[0]) + ((self._from_elsewhere(far) + rolls) << _BITS)
        far <<= _BITS
        # To a step.
        to_step = at + (costs.stay << _BITS)
        back_after_wrong, top_after_wrong = self._back_after_wrong.price(True), self._top_after_wrong.price(True)
        slipped = ~complete & (ways.foreign[:count] > 0)
        back = at + (np.where(slipped, back_after_wrong, prices.BACK) << _BITS)
        np.minimum(back, wrong + (back_after_wrong << _BITS), out=back)
        np.minimum(back, fill + (prices.BACK << _BITS), out=back)
        for by in range(1, _NEAR + 1):
            np.minimum(to_step[:-by], back[by:] + enter[:-by] + far[:-by], out=to_step[:-by])
        np.minimum(to_step, wrong + (costs.right_now << _BITS), out=to_step)
        np.minimum(to_step, fill + (prices.CHORD_AGAIN << _BITS), out=to_step)
        wrong_on = wrong + (costs.on_from_wrong << _BITS)
        onward = np.minimum(at + (costs.on << _BITS), wrong_on)
        np.minimum(onward, fill + (prices.NEXT_AFTER_FILL << _BITS), out=onward)
        np.minimum(to_step[1:], onward[:-1] + enter[1:], out=to_step[1:])
        skip = at + (np.where(complete, prices.SKIP, prices.SKIP_FROM_PART) << _BITS)
        np.minimum(to_step[2:], skip[:-2] + enter[2:] + far[2:], out=to_step[2:])
        if self._due_ms is None and self._any_same:
            # Nobody can say for certain how many of a run of equal chords were played.
            left = np.minimum.reduceat(onward, self._runs)[:-1] + (prices.LEAVES_RUN << _BITS)
            after = self._runs[1:]
            to_step[after] = np.minimum(to_step[after], left + enter[after])
        np.minimum(to_step, anywhere, out=to_step)
        np.minimum(to_step, from_away, out=to_step)
        top = at + (np.where(complete, prices.TOP, top_after_wrong) + self._nearer_top << _BITS)
        to_top = min(int(top.min()), int((wrong + (top_after_wrong + self._nearer_top << _BITS)).min()))
        to_step[0] = min(int(to_step[0]), to_top + int(far[0]) + (going << _BITS))
        # To a wrong attempt.
        next_wrong = prices.NEXT_WRONG << _BITS
        to_wrong = np.minimum(at + (prices.THIS_WRONG << _BITS), wrong + (costs.again << _BITS))
        onward = np.minimum(at + (np.where(complete, 0, prices.NEXT_FROM_MOST) << _BITS), wrong_on)
        np.minimum(onward, fill, out=onward)
        np.minimum(to_wrong[1:], onward[:-1] + enter[1:] + next_wrong, out=to_wrong[1:])
        np.minimum(to_wrong, from_away + next_wrong, out=to_wrong)
        if self._due_ms is not None:
            np.minimum(to_wrong, anywhere + next_wrong, out=to_wrong)
        # To a fill.
        to_fill = np.minimum(wrong + (costs.wrong_to_fill << _BITS), at + (costs.to_fill << _BITS))
        if not (sound.rang or sound.ringing):
            to_fill += prices.FILL_OVER_SILENCE << _BITS
        np.minimum(to_fill, fill + (costs.more_fill << _BITS), out=to_fill)
        to_away = min(best + ((costs.leaving + rolls) << _BITS), int(away[0]) + (prices.STILL_ELSEWHERE << _BITS))
        to_away += (signs[0] // 2) << _BITS
        least = np.concatenate((to_step, to_wrong, to_fill, [to_away]))
        return least >> _BITS, least & ((1 << _BITS) - 1)

    def _costs(self, sound: Sound, complete: Flags) -> _Costs:
        heard, one = self._tones_of[self._ways.tones], len(sound.struck) == 1
        stay = np.where(complete, prices.AGAIN_ONE if one else prices.AGAIN, prices.GOES_ON)
        part = np.where(2 * heard > self._tone_count, prices.NEXT_FROM_MOST, prices.NEXT_FROM_LITTLE)
        on = np.where(complete, prices.NEXT_ONE if one else prices.NEXT, part)
        if self._due_ms is None and self._any_same:
            took_ms = sound.onset_ms - self._ways.since_ms
            # In thousandths of the time that this player has for the step.
            took = 1_000_000 * took_ms // (self._lengths_ms * self.pace_permille)
            early = np.where(self._not_last, prices.TOO_SOON * np.clip(1000 - took, 0, 1000) // 1000, 0)
            late = prices.OVERSTAYED * np.clip(2 * took - prices.OVERSTAYS, 0, 1000) // 1000
            late = np.where(complete, late, prices.WRONG_OVERSTAYED * late // prices.OVERSTAYED)
            late = np.where(self._not_last, late, prices.WRONG_OVERSTAYED)
            leaves, known = self._leaves[one], self._same_next & complete
            on = np.where(known, np.minimum(on, leaves.price(True)), on) + np.where(self._same_next, early, 0)
            stay = np.where(known, np.maximum(stay, leaves.price(False)), stay) + np.where(self._same_next, late, 0)
        lone = self._before is not None and len(self._before.struck) == 1
        own_pace = prices.GOES_ON_FROM_ONE if lone else self._on_after_wrong.price(True)
        return _Costs(
            stay=stay,
            on=on,
            to_fill=np.where(complete, prices.TO_FILL, prices.TO_FILL_BEFORE),
            again=prices.WRONG_GOES_ON if one else prices.WRONG_AGAIN,
            right_now=prices.RIGHT_NOW,
            on_from_wrong=own_pace if self._due_ms is None else prices.GOES_ON_BY_CLICK,
            wrong_to_fill=prices.TO_FILL_BEFORE,
            more_fill=prices.MORE_FILL,
            leaving=prices.ELSEWHERE if self._due_ms is None else prices.ELSEWHERE_BY_CLICK,
            far=0,
        )

    def _costs_broken(self, complete: Flags, anew: int) -> _Costs:
        """The same where chords are asked for note by note; ``anew`` is what its beginning once more costs less."""
        count, foreign = self._count, self._ways.foreign
        short = self._tone_count - self._tones_of[self._ways.tones] - foreign[:count]
        before = np.where(short == 1, prices.BROKEN_ONE_SHORT, prices.BROKEN_TOO_SOON)
        on = np.where(complete, prices.BROKEN_ON, prices.BROKEN_ON_WRONG)
        over = foreign[count : 2 * count] >= self._tone_count - 1
        return _Costs(
            stay=np.where(short <= 0, prices.BROKEN_AGAIN + anew, prices.BROKEN_MORE),
            on=np.where(short <= 0, on, before),
            to_fill=np.full(count, NEVER, dtype=np.int64),
            again=np.where(over, prices.BROKEN_AGAIN + anew, prices.BROKEN_MORE),
            right_now=prices.RIGHT_NOW + np.where(over, anew, 0),
            on_from_wrong=np.where(over, prices.BROKEN_ON_WRONG, prices.BROKEN_TOO_SOON),
            wrong_to_fill=NEVER,
            more_fill=NEVER,
            leaving=prices.BROKEN_ELSEWHERE,
            far=prices.BROKEN_FAR,
        )

    def _from_elsewhere(self, far: Numbers) -> Numbers | int:
        """The price of coming to each step from elsewhere; ``far`` is added away from where the player left."""
        if self._due_ms is not None:
            return prices.FROM_ELSEWHERE_BY_CLICK
        left = self._ways.left
        found = np.where(self._steps > left, self._any_step_on, self._any_step_back) + far
        places = {left: prices.BACK_TO_PLACE, left + 1: prices.TO_NEXT_PLACE}
        if not self._ways.left_complete:
            places = {left: prices.TO_NEXT_PLACE, left + 1: prices.BACK_TO_PLACE}
        for step, cost in places.items():
            if 0 <= step < self._count:
                found[step] = cost
        return self._or_resumed(found, prices.TO_PLACE_BEFORE)

    def _or_resumed(self, found: Numbers, cost: int) -> Numbers:
        """Prices of going to each step, with that of going on where the player had come to."""
        resumed: Numbers = np.where(self._edges, np.minimum(found, cost), found)
        return resumed

    def _anywhere_from(self, best: int) -> Numbers | int:
        """The price of going to each step from the likeliest state, which is packed."""
        if self._due_ms is not None:
            return prices.ANYWHERE_BY_CLICK
        here = (best & ((1 << _BITS) - 1)) % max(1, self._count)
        found = np.where(self._steps > here, self._anywhere_on, self._anywhere_back)
        near = np.zeros_like(self._steps)
        chords = self._scores.chord_of
        near[chords[max(0, here - _NEAR) : here + 2]] = prices.NEARER
        return self._or_resumed(found + near[chords], prices.RESUMES)

    def _remembered(self, found: Numbers, source: Numbers, fit: Fit, sound: Sound) -> _Ways:
        """What each way has heard of its chord, since when, and where it was at the strokes that are not settled."""
        count, ways = self._count, self._ways
        came_by = source[:count]
        from_fill = came_by == 2 * count + self._steps
        stays = (came_by == self._steps) | from_fill
        heard = np.where(from_fill, self._scores.whole, ways.tones)
        tones = np.where(stays, heard, 0) | fit.tones
        since_ms = np.where(stays, ways.since_ms, sound.onset_ms)
        states = self._states
        if self._start is not None:
            return _Ways(found, tones, since_ms, self._foreign(fit), [states], self._start - 1)
        left, complete = ways.left, ways.left_complete
        before = int(source[3 * count])
        if before < 3 * count:
            left = before % count
            complete = before >= 2 * count or (before < count and bool(ways.tones[left] == self._scores.whole[left]))
        same = self._step_of(source) == self._step_of(states)
        foreign = np.where(same, ways.foreign[source], 0) + self._foreign(fit)
        return _Ways(found, tones, since_ms, foreign, [*(one[source] for one in ways.came_by), states], left, complete)


class _Share:
    """How often something is so: as if it had been so ``so`` of ``all_`` times, and what was seen since."""

    def __init__(self, so: int, all_: int) -> None:
        self._so, self._all = so, all_
        self._seen: deque[bool] = deque(maxlen=prices.MEMORY)

    def add(self, so: bool) -> None:
        """Seen once more."""
        self._seen.append(so)

    def price(self, so: bool) -> int:
        """Of its being so, or not."""
        yes, every = self._so + sum(self._seen), self._all + len(self._seen)
        return price((yes if so else every - yes) / every)


class _Sign:
    """What tells whether the hand has left its chord: how often it is so when it stays, and when it goes on."""

    def __init__(self, staying: tuple[int, int], going: tuple[int, int], most: int) -> None:
        self._staying, self._going = _Share(*staying), _Share(*going)
        self._most = most

    def add(self, so: bool, *, stays: bool) -> None:
        """Seen once more."""
        (self._staying if stays else self._going).add(so)

    def price_of_going(self, so: bool) -> int:
        """How much dearer it makes going on than staying, ``most`` at most."""
        dearer = self._going.price(so) - self._staying.price(so)
        return max(-self._most, min(self._most, dearer))
