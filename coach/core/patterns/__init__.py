"""Exercises made from a few words: keys and ladders of pitch, lines along them, lines in rhythm.

`keys` knows scales and chords, `lines` turns them into rows of pitches, `layout` puts a row of
pitches on the grid of beats.  Everything here is written or sounding alike: numbers go in and out.
"""
