"""Fingerings: what an instrument can do for a note, and which of it suits a passage."""
