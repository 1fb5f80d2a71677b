"""Scores as they are printed (parts, bars, heads, signs), and one line of them, played out."""
