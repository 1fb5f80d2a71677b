"""The practice book: every finished take, kept in sqlite."""
