"""The sound of the ensemble: voices made into samples or MIDI, mixed under the player's hands."""
