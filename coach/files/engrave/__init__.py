"""Engraving: our own MusicXML to pictures of lines of music, and pictures to printed pages.

Verovio runs in a process of its own (`child`), since a bad file can take it down; typst lays the
page.  Both are imported where they are used.
"""
