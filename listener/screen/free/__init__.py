"""The screen of free listening: the chord that governs, the ones before it, and its voices."""
