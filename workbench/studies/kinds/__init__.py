"""The studies' answers as text, JSON and rows."""
