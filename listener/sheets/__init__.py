"""A plan for others: as MIDI, MusicXML, sound, tab for a message, or a practice sheet to print."""
