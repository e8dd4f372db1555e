"""Eye and margin of every fast serial lane of a board, before the board is built."""

__version__ = "0.2.0"
