"""Writes ``docs/following.md``: the table of how well people are followed, and the page around it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from lab.following import Result

#: The rules may be tuned on people of these seeds; everything that is reported uses others.
TUNING_SEEDS: Final = range(1, 500_000)
REPORT_SEED: Final = 500_001

_ABOUT: Final = """# How well somebody who practises is followed

Written by `PYTHONPATH=tests python -m lab.measure --first-seed {first} --seeds {count} --page FILE`. Everything here is
simulated: people who practise {drills} drills of the course in every way of the table, each with their own pace,
touch, loudness and left hand, {takes} of each way and drill; pickup profile '{pickup}', pickup errors: {errors}.
The rules may be tuned on seeds {tuning_first} to {tuning_last}; the takes below have the seeds {first} to {last}{used}.

- **First verdict right**: of all steps of the drill, those of which the first verdict says what the first attempt was:
  a hit, not a hit, or not played.
- **Differing**: the same for the chords that differ from the one before and the one after; of equal chords in a row
  nobody can always say which one was struck.
- **Told**: the same for the steps whose messages say what was played (a pickup loses notes).
- **Astray**: of the verdicts on something that was heard, those on a chord that the player was not at.
- **Extra**: verdicts beyond the attempts that were made at their chord.
- **False hits**: "hit" where no attempt at that chord was one; **alike**: those of them where the player was at another
  place that asks for the very same notes, so that what sounded was right there.
- **Into quiet**: verdicts about silence or noodling that had lasted longer than four bars.
- **At once**: of the first attempts that were hits, those that were called so, settled or not, within 150 ms of their
  last string (the pickup's delay included); **taken back**: hits that were shown and settled otherwise.

What an attempt is, and what none, is said in `tests/lab/people/truth.py`.

"""


def table(results: Mapping[str, Result], *, by: str, errors: bool) -> str:
    """A row for each way (or whatever the results are ``by``), and one for all."""
    total = Result()
    for result in results.values():
        total.add(result)
    columns = [{"way": "way of practising"}.get(by, by), "takes", "steps", "first verdict right", "differing"]
    if errors:
        columns += ["told", "right, told"]
    columns += ["astray", "extra", "false hits", "alike", "into quiet", "at once", "taken back"]
    lines = [f"| {' | '.join(columns)} |", "|---" * len(columns) + "|"]
    for name, result in (*results.items(), ("**all**", total)):
        cells = [name, str(result.takes), str(result.steps), _percent(result.agreement),
                 _percent(result.agreement_apart)]  # fmt: skip
        if errors:
            cells += [str(result.told), _percent(result.agreement_told)]
        cells += [f"{result.astray} ({_percent(result.astray_share)})", str(result.extra), str(result.false_hits)]
        cells += [str(result.alike), str(result.into_quiet), _percent(result.at_once_share), str(result.taken_back)]
        lines.append(f"| {' | '.join(cells)} |")
    confusion = ", ".join(f"{count} {really} said {said}" for (really, said), count in sorted(total.confusion.items())
                          if really != said)  # fmt: skip
    return "\n".join(lines) + f"\n\nFirst verdicts that are not so: {confusion or 'none'}.\n"


def page(text: str, *, drills: int, seeds: range, pickup: str, errors: str) -> str:
    """The whole page."""
    used = " (tuning seeds: no report)" if seeds[0] in TUNING_SEEDS else ""
    takes = "one take" if len(seeds) == 1 else f"{len(seeds)} takes"
    about = _ABOUT.format(
        first=seeds[0], last=seeds[-1], count=len(seeds), takes=takes, drills=drills, pickup=pickup, errors=errors,
        used=used, tuning_first=TUNING_SEEDS[0], tuning_last=TUNING_SEEDS[-1],
    )  # fmt: skip
    return about + text


def _percent(share: float) -> str:
    return f"{100 * share:.1f} %"
