"""Playing one's own line inside the ensemble: who plays what, when, and how it fits together."""
