"""Standard MIDI Files: to a score, and from a passage."""

from coach.files.smf.read import read_smf
from coach.files.smf.write import smf_bytes

__all__ = ["read_smf", "smf_bytes"]
