"""The pure core: music, time in frames, judging and pacing.  Standard library only."""
