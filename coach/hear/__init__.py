"""Sound to evidence: numpy and aubio; no device, no clock."""
