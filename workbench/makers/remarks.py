"""What a tolerant reader notices in a maker's file and reads all the same."""

from typing import NamedTuple

MOST = 200
"""So many are kept; a file with more says so in the last."""


class Remark(NamedTuple):
    """Something in a maker's file that is not as the standard has it, or is not used here.

    Attributes:
        line: in the file, from 1.
        text: what it is and how it was taken, as a sentence's part without full stop.
    """

    line: int
    text: str

    def __str__(self) -> str:
        return f"line {self.line}: {self.text}"


class Remarks:
    """Remarks as they are made, each once, and no more than `MOST`."""

    def __init__(self) -> None:
        self._kept: dict[Remark, None] = {}
        self._more = 0

    def add(self, line: int, text: str) -> None:
        """Note something about a line (from 1)."""
        remark = Remark(line, text)
        if remark in self._kept:
            return
        if len(self._kept) < MOST:
            self._kept[remark] = None
        else:
            self._more += 1

    def all(self) -> tuple[Remark, ...]:
        """What was noted, in the order of lines."""
        kept = tuple(sorted(self._kept))
        if not self._more:
            return kept
        return (*kept, Remark(kept[-1].line, f"there are {self._more:,} more remarks like these"))
