"""What other libraries say of the same files."""
