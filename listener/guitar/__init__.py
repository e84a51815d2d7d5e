"""The instrument and the hand: strings, frets and fingers, measured in millimetres.

Strings are numbered as players number them, 1 = highest; on six strings 6 is the lowest. Frets are counted from
the nut, or from the capo when there is one; fret 0 is the open string. Fingers: 0 = open, 1 index to 4 little finger.
"""
