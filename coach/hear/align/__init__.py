"""Where the bars of a score lie in a recording of it.

Both are turned into the same features, how much of each of the twelve pitch classes sounds and how
much of it begins (chroma onsets that die away: Ewert, Müller and Grosche 2009, High resolution
audio synchronization using chroma onset features, ICASSP; from memory), and laid along one another
by dynamic time warping, first roughly over everything, then finely piece by piece.
"""

from coach.hear.align.aligning import Alignment, align

__all__ = ["Alignment", "align"]
