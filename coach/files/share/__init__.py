"""Records of practice in files of their own: JSON lines out and in (`lines`), rows for a
spreadsheet (`table`), drill files that come along (`drills`).  Nothing here trusts a file."""
