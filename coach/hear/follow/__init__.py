"""The ear that knows the score: it follows the expected notes through the sound."""
