"""What a player asks of the last weeks, as figures to be drawn: does it get faster, which notes are
the trouble, do both syllables come alike, which finger moves lag, how even, how much.

Each module holds the figures of one picture and the sentence that answers its question; drawing is
`coach/page`.
"""
