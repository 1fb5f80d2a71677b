"""Pure functions from data to pictures in the terminal."""
