"""What everything costs that the follower weighs, in one table.

A price is a logarithm of a chance, in thousandths and without its sign (1000 is one nat: e times less likely), a whole
number, so that every machine adds up the same. The chances are our own choice, tuned on simulated people of some seeds
and reported on others (``docs/following.md``), after the idea of E. Nakamura, N. Ono, Y. Saito and S. Sagayama, Journal
of New Music Research 43(2), 2014: a player may repeat, skip and err at any time, and each has its chance.
"""

from __future__ import annotations

from math import log
from typing import Final


def price(chance: float) -> int:
    """The price of a chance between 0 and 1.

    >>> price(1.0), price(0.5), price(0.001)
    (0, 693, 6908)
    """
    return round(-1000 * log(chance))


#: More than anything costs: what cannot be.
NEVER: Final = 1 << 38

# A note, at a step ------------------------------------------------------------------------------------------------
#: A tone of the chord, shared among its tones: nearly every note of somebody who plays it.
TONE: Final = 0.93
#: Where any voicing of the chord will do, so much of that for the planned one; the rest for its tones anywhere else.
AS_PLANNED: Final = 0.6
#: A fret or two beside a tone: where a finger lands that misses.
BESIDE: Final = 0.03
#: A tone an octave or two away: the wrong octave of a shape, and a pickup that has locked on to a harmonic.
OCTAVE: Final = 0.01
#: Three frets beside: the neighbouring string.
THREE: Final = 0.005
#: Any note at all, shared among the notes of the neck.
ANY_NOTE: Final = 0.025
#: So many notes a neck has (six strings, 22 frets: E2 to D6; common practice), and a little less is used.
NECK: Final = 45
#: In a wrong attempt so much of a note's chance is that of any note, so much that of one a fret or two beside a tone,
#: and so much that of one an octave away; the rest is as at the step.
WILD: Final = 0.35
MISSED: Final = 0.28
MISSED_OCTAVE: Final = 0.12
#: A whole attempt in the wrong place: all of it a fret, two, or one or two octaves away (shared among these).
SHIFTS: Final = (-1, 1, -2, 2, -12, 12, -24, 24)
SHIFTED: Final = price(0.15 / len(SHIFTS))
#: The same note by note: one that is as far away as the one before.
SHIFTED_ON: Final = price(0.35)
#: Another chord of the drill by mistake (to be shared among its chords, or so many where it has fewer).
ANOTHER: Final = 0.15
OTHERS: Final = 12
#: A tune note above the chord: from so far below its top tone to so far above (semitones).
FILL_BELOW: Final = 2
FILL_ABOVE: Final = 9
FILL: Final = 0.75
#: Or a run of the bass: so far to both sides of its lowest tone.
FILL_BASS: Final = 0.15
BASS_REACH: Final = 7
#: A tune comes note by note: a second note at once, and each further one.
FILL_MORE: Final = price(0.3)
FILL_CHORD: Final = price(0.06)
#: Elsewhere a note is mostly a few frets from the one before, when that was not long ago, or the same again or its
#: octave, as in tuning; any other costs 1 in a neck. A run of the bass goes by steps as well.
LINE_STEP: Final = 2
BY_STEP: Final = price(0.16)
BY_STEP_BELOW: Final = price(0.08)
TUNED: Final = price(0.15)
LINE_MS: Final = 1500
#: Noodling comes note by note: two at once are rarer, and a handful much rarer.
NOODLED_PAIR: Final = price(0.60)
NOODLED_CHORD: Final = price(0.06)

# From one burst of notes to the next ------------------------------------------------------------------------------
#: From a chord of which all tones were heard: struck again or played on; the next; the next one wrong; this one wrong;
#: tune notes above it.
AGAIN: Final = price(0.35)
NEXT: Final = price(0.50)
NEXT_WRONG: Final = price(0.08)
THIS_WRONG: Final = price(0.01)
TO_FILL: Final = price(0.06)
#: A chord that was right is seldom struck again with a slip: that is rather the next one gone wrong.
AGAIN_SPOILT: Final = price(0.15)
#: The same when a single note follows: chords are broken into their notes for as many rounds as one likes.
AGAIN_ONE: Final = price(0.45)
NEXT_ONE: Final = price(0.42)
#: From a chord that is not complete: more of it; the next, when more than half was heard, and when less.
GOES_ON: Final = price(0.60)
NEXT_FROM_MOST: Final = price(0.14)
NEXT_FROM_LITTLE: Final = price(0.03)
#: One left out, after a chord that was complete and after one that was not; from a chord that is complete, one to three
#: back, each, and the top.
SKIP: Final = price(0.004)
SKIP_FROM_PART: Final = price(0.0002)
BACK: Final = price(0.001)
TOP: Final = price(0.0008)
#: Noodling, tuning, talking with the guitar.
ELSEWHERE: Final = price(0.004)
ELSEWHERE_BY_CLICK: Final = price(0.0015)
#: Anywhere at all (to be shared among the steps): farther on, or back. Of two equal places it is the one farther on.
ANYWHERE_ON: Final = 0.002
ANYWHERE_BACK: Final = 0.0005
#: A place far away costs so much more when its chord is also one to three back, here, or next: it is rather that one.
NEARER: Final = price(0.2)
#: To where the player had come before, from wherever.
RESUMES: Final = price(0.005)
#: Part of a chord far away is no more than a likeness.
FAR_PART: Final = price(0.10)
#: From a wrong attempt: right now; wrong again.
RIGHT_NOW: Final = price(0.55)
WRONG_AGAIN: Final = price(0.12)
#: A wrong chord that is broken into its notes goes on note by note.
WRONG_GOES_ON: Final = price(0.50)
#: On to the next after a single wrong note, which is seldom all that somebody tries; and with the click. Otherwise that
#: is learnt, as is going back.
GOES_ON_FROM_ONE: Final = price(0.05)
GOES_ON_BY_CLICK: Final = price(0.30)
#: Where nothing rings any more that a tune could be above.
FILL_OVER_SILENCE: Final = price(0.3)
#: Tune notes above a chord that is not right yet.
TO_FILL_BEFORE: Final = price(0.02)
#: From a fill: more of it; the chord again; the next; the next one wrong.
MORE_FILL: Final = price(0.55)
CHORD_AGAIN: Final = price(0.10)
NEXT_AFTER_FILL: Final = price(0.30)
#: From elsewhere: more of it; to the step after the one that the player left (when that was complete), to that one; any
#: step farther on, or back (to be shared).
STILL_ELSEWHERE: Final = price(0.88)
TO_NEXT_PLACE: Final = price(0.12)
BACK_TO_PLACE: Final = price(0.02)
TO_PLACE_BEFORE: Final = price(0.02)
ANY_STEP_ON: Final = 0.015
ANY_STEP_BACK: Final = 0.005
#: At the very beginning, and after a jump: the step that is due, that step wrong, elsewhere, any step (shared).
DUE: Final = price(0.80)
DUE_WRONG: Final = price(0.08)
DUE_ELSEWHERE: Final = price(0.08)
DUE_ANY: Final = 0.005
#: With the click the player may have lost some chords and come in again wherever the click is: the time says where.
ANYWHERE_BY_CLICK: Final = price(0.02)
DUE_ANY_BY_CLICK: Final = price(0.20)
FROM_ELSEWHERE_BY_CLICK: Final = price(0.15)
#: The same chord again where it is due again as well: going on costs so much when the step has only begun, and nothing
#: when the player has been at it for as long as it takes; staying costs so much in the end (more at one that is not
#: right), from so many thousandths of half that time on.
TOO_SOON: Final = 3000
OVERSTAYED: Final = 200
WRONG_OVERSTAYED: Final = 800
OVERSTAYS: Final = 1500
#: On from anywhere in a run of equal chords to the one after it.
LEAVES_RUN: Final = price(0.05)

# The hand ---------------------------------------------------------------------------------------------------------
#: Whether strings of the last stroke still ring tells whether the hand has left its chord. How often they do when it
#: stays, and when it goes on, is learnt from the player; it begins as if so many strokes were known, (ringing, all).
RINGS: Final = ((4, 5), (3, 5))
BROKEN_RINGS: Final = ((16, 20), (3, 20))
#: No sign alone says more than this, but where chords are asked for note by note and there is little else to go by: a
#: hand also leaves a chord to play it again.
MOST_FOR_A_SIGN: Final = 1400
#: The same of whether a note of a broken chord is higher than the one before: a hand mostly goes over the strings one
#: way, and begins anew at the other end.
BROKEN_RISES: Final = ((3, 5), (2, 5))
#: And whether a stroke comes so soon after the one before: a hand that changes its chord takes longer.
SOON_AFTER_MS: Final = 300
SOON_AFTER: Final = ((2, 6), (1, 20))
#: A single string that comes within so many ms of another that rings on is the next of one movement of the hand: how
#: often the hand has changed its chord by then is learnt, as if so many times were known (changes, all).
ROLLS_MS: Final = 220
CHANGES_IN_A_ROLL: Final = (1, 100)

# The player -------------------------------------------------------------------------------------------------------
#: Learnt likewise: how often a chord that was right is left with the next stroke, and with the next single note (only
#: asked where the same chord is due next: else the notes say it better); how often somebody goes on from a wrong one,
#: and how often back, by each number of steps, or to the top.
LEAVES: Final = (3, 5)
LEAVES_ONE: Final = (2, 5)
ON_AFTER_WRONG: Final = (1, 5)
BACK_AFTER_WRONG: Final = (3, 100)
TOP_AFTER_WRONG: Final = (2, 100)
#: Of all that is learnt, not more than so many of the last times count.
MEMORY: Final = 40

# A drill of arpeggios ---------------------------------------------------------------------------------------------
#: Each chord is asked for note by note, so that it is over with as many as it has: more of it before, and after that;
#: on to the next before, one short, and after, when all its tones were heard and when not.
BROKEN_MORE: Final = price(0.90)
BROKEN_AGAIN: Final = price(0.40)
BROKEN_TOO_SOON: Final = price(0.02)
BROKEN_ONE_SHORT: Final = price(0.12)
BROKEN_ON: Final = price(0.60)
BROKEN_ON_WRONG: Final = price(0.55)
#: Any jump costs so much more: a note says less than a chord.
BROKEN_FAR: Final = price(0.20)
#: There is no tune above it, and noodling is rare.
BROKEN_ELSEWHERE: Final = price(0.001)

# Time -------------------------------------------------------------------------------------------------------------
#: With the click a stroke that comes early by x pays ½(x/120 ms)², from 120 ms on this much a second, beyond one second
#: that much.
STRAYS_MS: Final = 120
EARLY_PER_SECOND: Final = 6000
#: One that comes when the next chord is due, or a moment before, is rather that one's: the price of staying grows to
#: this within so many ms, then by so much a second.
NEARLY_MS: Final = 60
OVERDUE: Final = 3000
LATE_PER_SECOND: Final = 4000
#: Whoever goes on to a chord mostly does so when it is due: ½(x/60 ms)² for x too early or too late, up to the most.
ENTERS_MS: Final = 60
MOST_TO_ENTER: Final = 700
#: Beyond one second either grows by this much a second, and neither beyond the most.
FAR_PER_SECOND: Final = 3000
MOST_FOR_TIME: Final = 14000
_TABLE_MS: Final = 5000


def early_prices() -> list[int]:
    """The price of coming 0, 1, 2 ... ms before a step is due; the last one for everything beyond."""
    return [_off_time(ms, STRAYS_MS, 500 * min(ms, STRAYS_MS) ** 2 // STRAYS_MS**2, EARLY_PER_SECOND) for ms in _MS]


def late_prices() -> list[int]:
    """The same for coming 0, 1, 2 ... ms after :data:`NEARLY_MS` before the next step is due."""
    return [_off_time(ms, NEARLY_MS, OVERDUE * min(ms, NEARLY_MS) // NEARLY_MS, LATE_PER_SECOND) for ms in _MS]


def entering_prices() -> list[int]:
    """The price of going on to a step 0, 1, 2 ... ms before or after it is due."""
    return [min(MOST_TO_ENTER, 500 * ms**2 // ENTERS_MS**2) for ms in _MS]


def _off_time(ms: int, near_ms: int, price_near: int, per_second: int) -> int:
    near, far = max(0, min(ms, 1000) - near_ms), max(0, ms - 1000)
    return min(MOST_FOR_TIME, price_near + (near * per_second + far * FAR_PER_SECOND) // 1000)


_MS: Final = range(_TABLE_MS)

# When a verdict stands --------------------------------------------------------------------------------------------
#: Whose a stroke was is settled when every other reading of it costs so much more; after a second of silence, so much;
#: and after three.
SURE: Final = 5000
SURE_IN_SILENCE: Final = 4000
SURE_IN_LONG_SILENCE: Final = 2500
#: And when so many strokes came after it, whatever is in doubt.
HEARD_OUT: Final = 24
