"""Names for found pitches: the voicing that they are, as a wish writes its chord and its melody notes."""

from __future__ import annotations

from functools import lru_cache

from listener.drill.drill import Wish
from listener.music.chord import Chord
from listener.music.pitch import Pitch, Tone, spell
from listener.music.quality import Quality
from listener.music.voicing import ANY, FULL, OTHER, Voicing, inversion_of, kind_of, voicing_of
from listener.planning.shapes.tones import wished_tones


class Voicer:
    """Makes the voicings of one wish, each set of pitches once."""

    def __init__(self, wish: Wish) -> None:
        self.wish = wish
        self.added = added_tones(wish)
        self._made: dict[tuple[str, tuple[int, ...]], Voicing] = {}
        self._named: dict[int, tuple[Pitch, str]] = {}
        self._added_top: dict[str, bool] = {}

    def voicing(self, kind: str, pitches: tuple[int, ...]) -> Voicing:
        """The voicing of these MIDI notes (low to high), found as a voicing of this kind.

        It is named by the kind that was wished where a spacing has two names (a shell is also close). An added melody
        note is left out of account: the kind is that of the notes under it.
        """
        key = (kind, pitches)
        if key not in self._made:
            self._made[key] = self._voicing(kind, pitches)
        return self._made[key]

    def _voicing(self, kind: str, pitches: tuple[int, ...]) -> Voicing:
        chord = self.wish.chord
        added_top = self._adds_top(kind)
        named = [self._name(note) for note in pitches]
        # A shape with doubled tones is either full or nothing that has a name.
        spacing = FULL if kind == FULL else _kind(chord, pitches[:-1] if added_top else pitches)
        return Voicing(
            chord=chord,
            pitches=tuple([pitch for pitch, _ in named]),
            degrees=tuple([degree for _, degree in named]),
            kind=spacing if kind == ANY or spacing in self.wish.kinds else kind,
            inversion=inversion_of(chord, pitches[0]),
        )

    def _adds_top(self, kind: str) -> bool:
        """Whether voicings of this kind have the melody note added above them; of no kind, it is one of their notes."""
        if kind == OTHER:
            return False
        if kind not in self._added_top:
            self._added_top[kind] = self.wish.exact is None and wished_tones(self.wish, kind).top_midi is not None
        return self._added_top[kind]

    def _name(self, note: int) -> tuple[Pitch, str]:
        """One note's spelling and degree."""
        if note not in self._named:
            alone = voicing_of(self.wish.chord, (note,), added=self.added)
            self._named[note] = alone.pitches[0], alone.degrees[0]
        return self._named[note]


def added_tones(wish: Wish) -> tuple[Tone, ...]:
    """The tones outside the chord that a wish brings along: as it spells them, otherwise with a plain name."""
    tones = list(wish.spelling)
    if wish.added_top and wish.top.pitch is not None:
        tones.insert(0, _tone(wish.top.pitch))
    known = {tone.pitch_class for tone in tones}
    tones += [_tone(spell(note)) for note in wish.exact or () if note % 12 not in known]
    # voicing_of lets the last of equal tones speak; here the first does.
    return tuple(reversed(tones))


def _tone(pitch: Pitch) -> Tone:
    return Tone(pitch.letter, pitch.alteration)


def _kind(chord: Chord, pitches: tuple[int, ...]) -> str:
    """:func:`kind_of`, which is the same on every root: worked out once for all transpositions."""
    if not pitches:
        return OTHER
    bass = None if chord.bass is None else (chord.bass.pitch_class - chord.root.pitch_class) % 12
    low = (pitches[0] - chord.root.pitch_class) % 12
    return _kind_on_c(chord.quality, bass, tuple([low + note - pitches[0] for note in pitches]))


@lru_cache(maxsize=1 << 15)
def _kind_on_c(quality: Quality, bass: int | None, pitches: tuple[int, ...]) -> str:
    return kind_of(Chord(Tone("C"), quality, None if bass is None else _tone(spell(bass))), pitches)
