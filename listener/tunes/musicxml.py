"""The melody of a MusicXML score (score-partwise): top voice of a part, with key, meter and chord symbols.

Source: MusicXML 4.0 (W3C). Where time goes is told by durations, backups and forwards alone; a bar is as long as what
stands in it, and an empty one as long as its meter says.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Final
from xml.etree.ElementTree import Element

from listener.errors import SourceError
from listener.music.chord import Chord
from listener.tunes.parts import choose_part, no_melody, one_voice, shown_name
from listener.tunes.safe_xml import walk
from listener.tunes.score_part import PartReader
from listener.tunes.tune import Melody, TimedChord

_MAX_PARTS: Final = 400


def musicxml_melody(data: bytes, name: str, part: str | None) -> Melody:
    """See :func:`listener.tunes.melody.read_melody`."""
    score = _Score(name)
    walk(
        data,
        name,
        roots=frozenset({"score-partwise"}),
        pieces=frozenset({"part-list", "measure"}),
        visit=score.visit,
    )
    readers = list(score.parts.values())
    with_notes = [reader for reader in readers if reader.has_notes]
    if not with_notes:
        raise no_melody(name, percussion=any(reader.unpitched for reader in readers))
    chosen = with_notes[choose_part([reader.title for reader in with_notes], part, name)]
    notes = one_voice(chosen.sounded, name, chosen.title)
    with_chords = chosen if chosen.chords else next((reader for reader in readers if reader.chords), chosen)
    end = max(chosen.end, with_chords.end, notes[-1].end_beats)
    return Melody(
        name=name,
        part=chosen.title,
        notes=notes,
        length_beats=end,
        chords=tuple(_timed(with_chords.chords, end)),
        key=chosen.key,
        meter=chosen.meter,
        pickup_beats=chosen.pickup,
        remarks=(*chosen.remarks(), *(with_chords.chord_remarks)),
    )


@dataclass
class _Score:
    """The parts of a score, filled bar by bar while the file is walked through."""

    name: str

    def __post_init__(self) -> None:
        self.parts: dict[str, PartReader] = {}
        self.titles: dict[str, str] = {}

    def visit(self, element: Element, around: dict[str, str]) -> None:
        if element.tag == "part-list":
            for listed in element.iter("score-part"):
                title = shown_name(listed.findtext("part-name", ""))
                self.titles[listed.get("id", "")] = title
            return
        identity = around.get("id", "")
        if identity not in self.parts:
            if len(self.parts) >= _MAX_PARTS:
                raise SourceError(f"{self.name} has more than {_MAX_PARTS} parts; save the melody's part alone")
            title = self.titles.get(identity) or f"part {len(self.parts) + 1}"
            self.parts[identity] = PartReader(self.name, title)
        self.parts[identity].measure(element)


def _timed(symbols: list[tuple[Fraction, Chord | None]], end: Fraction) -> Iterator[TimedChord]:
    """Each chord to the next symbol, the last to the end; nothing where nothing shall be played."""
    ordered = sorted(dict(symbols).items(), key=lambda symbol: symbol[0])
    for index, (start, chord) in enumerate(ordered):
        stop = ordered[index + 1][0] if index + 1 < len(ordered) else end
        if chord is not None and stop > start:
            yield TimedChord(start, stop - start, chord)
