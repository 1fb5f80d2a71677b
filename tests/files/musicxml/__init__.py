"""MusicXML: what files mean, and what is refused."""
