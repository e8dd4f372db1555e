"""Boards whose conditioners have controls of each channel's own."""

from msgspec.structs import replace

from tests.board.sample import sample_board
from tests.studies.boards import section, with_lanes
from workbench.board.model import Board

OWN = ("equalization",)


def own_equalization(board: Board, *, per_channel: tuple[str, ...] = OWN) -> Board:
    """The board with some controls of its conditioners each channel's own."""
    parts = tuple(replace(part, per_channel=per_channel) for part in board.catalogue.conditioners)
    return replace(board, catalogue=replace(board.catalogue, conditioners=parts))


def sample() -> Board:
    """D0 and D2 through channels 1 and 3 of U1, D1 and D3 without it."""
    return own_equalization(sample_board(4))


def searched(per_channel: tuple[str, ...] = OWN) -> Board:
    """D0 and D1, which want different equalization, through U1: three equalizations, two emphases."""
    board = with_lanes(section(), "D0", "D1")
    parts = tuple(replace(one, equalization=one.equalization[:3]) for one in board.catalogue.conditioners)
    board = replace(board, catalogue=replace(board.catalogue, conditioners=parts))
    return own_equalization(board, per_channel=per_channel)
