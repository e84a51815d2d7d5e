"""What things are called: pitches, chords, scales, numerals, voicings, and how far voices move. No guitar, no MIDI.

Conventions: MIDI note 60 is C4 and note 69 is A4 = 440 Hz; pitches run low to high; degrees are written as
musicians write them (``"1"``, ``"b3"``, ``"#11"``); distances are semitones.
"""
