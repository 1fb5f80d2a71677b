"""MusicXML, plain or zipped, part by part or bar by bar: read as a score."""

from coach.files.musicxml.reading import read_musicxml

__all__ = ["read_musicxml"]
