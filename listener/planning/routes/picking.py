"""Which shapes a picking pattern can be played on: those of which it sounds the whole chord."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from listener.drill.drill import SAME_CHORD, Step
from listener.music.pattern import least_voices, ranks
from listener.planning.routes.facts import facts_of
from listener.planning.shapes.found import Candidate, Candidates


@dataclass(frozen=True, slots=True)
class Picking:
    """The voices that are picked while a chord is due, counted as in :class:`listener.music.pattern.Place`.

    Where any voicing of the chord is right, its ``tones`` are enough; else every voice has to be picked.
    """

    voices: frozenset[int]
    tones: bool

    def among(self, found: tuple[Candidate, ...]) -> tuple[tuple[Candidate, ...], str]:
        """The candidates (at least one) on which this sounds the whole chord; with none of them, why."""
        notes = facts_of(found).notes
        count = (notes >= 0).sum(axis=1)
        good = np.zeros(len(notes), dtype=bool)
        for voices in set(count.tolist()):
            picked = list(ranks(self.voices, voices))
            if voices < least_voices(self.voices):
                continue
            rows = count == voices
            if self.tones:
                tones = 1 << (notes[rows][:, :voices].astype(np.int64) % 12)
                good[rows] = np.bitwise_or.reduce(tones[:, picked], axis=1) == np.bitwise_or.reduce(tones, axis=1)
            else:
                good[rows] = len(picked) == voices
        if good.all():
            return found, ""
        rows = np.flatnonzero(good).tolist()
        chosen = found.only(rows) if isinstance(found, Candidates) else tuple(found[row] for row in rows)
        return chosen, "" if rows else self._why(sorted(set(count.tolist())))

    def _why(self, counts: list[int]) -> str:
        least = least_voices(self.voices)
        if counts[-1] < least:
            most = f"{'' if counts[0] == counts[-1] else 'at most '}{counts[-1]}"
            return f"its pattern needs {least} voices, and this has {most}; pick fewer, or ask for more voices"
        size = next(count for count in counts if count >= least)
        picked = ranks(self.voices, size)
        missing = next((rank + 1 for rank in range(size) if rank not in picked), None)
        if self.tones or missing is None:
            return "the voices that its pattern picks leave out a tone of the chord; pick more of them"
        here = f"its pattern never picks voice {missing} of {size} while the chord is due"
        at_once = "1+2" if missing == 1 else f"1+{missing}"
        return f"{here}; pick it too (several at once as {at_once}), or ask for fewer voices"


def picking(step: Step) -> Picking | None:
    """What a step's pattern picks; None where everything is strummed or there is no pattern."""
    if step.pattern is None or step.pattern.is_strummed:
        return None
    voices = frozenset(voice for one in step.placed for voice in one.place.voices)
    return Picking(voices, step.strictness == SAME_CHORD)
