"""Edits: functions from a board to a new board, the one home of all of them."""
