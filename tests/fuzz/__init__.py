"""Everything that comes from outside, spoiled: files, JSON, MIDI, sound, the book.

A target takes a `Random` and a folder of its own, makes one spoiled input, and returns what came of
it; whatever it raises is a failure.  `python -m tests.fuzz --minutes 10` runs all of them for that
long, and tells the seed of each failure; `--target NAME --seed N --count 1` repeats it.
"""
