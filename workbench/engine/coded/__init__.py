"""The line code's own eye: every sequence that the code sends, and no other."""
