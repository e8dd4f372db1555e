"""A pane's data as columns, for its exports."""

from typing import NamedTuple

from workbench.arrays import Floats


class PaneColumn(NamedTuple):
    """One column of a pane's data: what it is, its SI unit ("1" for a bare number), its values."""

    title: str
    unit: str
    values: Floats
