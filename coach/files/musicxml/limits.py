"""How much one file may ask for, and why so much.

The largest movement at hand (30,000 notes and rests of 25 parts) takes 12 MB as text.
"""

from __future__ import annotations

from fractions import Fraction

MAX_BYTES = 256_000_000  # ten times the largest scores known, and still read within the memory
MAX_FEEDS = 64  # one endless comment is looked through again with every piece that is fed
MAX_RATIO = 300  # scores shrink 20 to 30 times; zip bombs a thousand times
RATIO_FROM_BYTES = 4_000_000  # below this no ratio does harm
MAX_MEMBERS = 2_000  # a score with a picture for every page has some hundreds
MAX_CONTAINER_BYTES = 1_000_000  # it holds a few file names
MAX_DEPTH = 60  # MusicXML itself goes eight or nine levels deep
MAX_ELEMENTS = 200_000  # in one bar of one part, or in the head: a bar of 1,000 notes has 15,000
MAX_NOTES = 300_000  # notes and rests: ten times the largest movement; some 15 s
MAX_CELLS = 200_000  # bars times parts: 40 parts of 5,000 bars
MAX_CHANGES = 1_000  # of clef, key or transposition in one bar
MAX_STAVES = 99  # of one part
MAX_DIVISIONS = 1_000_000  # of a quarter note; programs write up to some 50,000
MAX_BEATS = Fraction(10_000)  # in one bar or note
MAX_DENOMINATOR = 10**15  # of an onset; all tuplets up to 13 nested in each other need 10**9
MAX_SEMITONES = 60  # of a transposition
MAX_FIFTHS = 14  # seven double accidentals
MAX_PLAYS = 100  # of one repeat
MAX_COUNTS = 64  # of a meter, and its largest single count
TEMPO_BPM = (5.0, 2000.0)  # quarter notes a minute
MAX_TITLE = 200  # characters of a title or name
MAX_FINGERING = 8  # characters
MAX_SYLLABLE = 16  # characters
MAX_TEMPO_WORDS = 64  # in one bar, all parts together
