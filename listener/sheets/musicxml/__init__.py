"""Notation for other programs: MusicXML 4.0 (W3C), from note values to neck diagrams."""
