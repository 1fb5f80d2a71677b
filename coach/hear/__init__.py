"""Sound to evidence: numpy, scipy and aubio; no device, no clock."""
