"""How the impedance of a line that is given by its cross-section hangs on the width of its traces."""

import math

import numpy as np
from msgspec.structs import replace

from workbench.board.index import Index
from workbench.board.model import Board
from workbench.parts.record import RunRecord

WIDTH = "width_m"
"""The field of every cross-section that etching decides."""
_AT_HZ = 1e9
_ASIDE = 1.2
"""Widths so many times larger and smaller tell how the impedance goes with it."""


def has_width(line: RunRecord) -> bool:
    """Whether a line is given by its cross-section."""
    return WIDTH in line.__struct_fields__


def impedance_ohm(board: Board, line: RunRecord) -> float:
    """Differential impedance of a line at 1 GHz, ohm."""
    constants = line.line_constants(np.array([_AT_HZ]), Index(board).parts_of(line))
    return float(np.sqrt(constants.z_ohm_per_m / constants.y_s_per_m)[0].real)


def width_power(board: Board, line: RunRecord) -> float:
    """The power of the impedance that the width goes with, about the width as it is; wider traces have less of it."""
    width_m = float(getattr(line, WIDTH))
    wider, narrower = (
        impedance_ohm(board, replace(line, **{WIDTH: aside_m})) for aside_m in (width_m * _ASIDE, width_m / _ASIDE)
    )
    return 2.0 * math.log(_ASIDE) / math.log(wider / narrower)
