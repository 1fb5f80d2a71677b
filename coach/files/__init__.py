"""Foreign formats to core types and back."""
