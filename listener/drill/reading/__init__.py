"""The fields of a drill file, each read with every fault kept, and what they become: wishes for chords."""
