"""Standard MIDI Files: to a score, to notes in exact seconds, and from a passage."""

from coach.files.smf.read import read_smf
from coach.files.smf.seconds import TimedNote, TimedVoice, timed_notes
from coach.files.smf.write import smf_bytes

__all__ = ["TimedNote", "TimedVoice", "read_smf", "smf_bytes", "timed_notes"]
