"""What is kept: takes, verdicts, skills and progress over weeks, and what is handed on of them.

How much room it takes (measured on simulated takes of three- to six-note chords): 290 bytes a stroke in the history, 20
of them for skills and reviews, 900 while its take is being played, when the MIDI is there too, and some 55 in the
take's own file. A million strokes, ten years of daily practice, are 290 MB.
"""
