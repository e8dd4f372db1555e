"""How a wave is cut into frames for a filter: overlap-save with several frames at a time.

A frame is `frame_ui` long and laps over the one before by `overlap_ui`, in which the filter's response has to be over
(H. J. Nussbaumer, Fast Fourier Transform and Convolution Algorithms, Springer 1981, section 3.4).
"""

import msgspec
import numpy as np

from workbench.arrays import Samples

MARGIN_UI = 3
"""A block's samples reach so far beyond it on both sides, so that what is read between samples needs no memory."""


class Frames(msgspec.Struct, frozen=True):
    """The frames of a block: `rows` of them."""

    frame_ui: int
    overlap_ui: int
    rows: int

    @property
    def fresh_ui(self) -> int:
        """What a frame adds, UI."""
        return self.frame_ui - self.overlap_ui

    @property
    def block_ui(self) -> int:
        """What a block adds, UI."""
        return self.rows * self.fresh_ui


_LEAST_FRAME_UI = 1024
_ROWS = 4


def frames_for(window_ui: int, margin_ui: int = MARGIN_UI) -> Frames:
    """Frames for responses that are over in `window_ui`, blocks having margins of `margin_ui` (UI)."""
    frame_ui = max(8 * window_ui, _LEAST_FRAME_UI)
    return Frames(frame_ui, window_ui + 2 * margin_ui, _ROWS)


class Framed:
    """A wave's samples as overlapping frames; it keeps what the next block laps over.

    Args:
        frames: their geometry.
        per_ui: samples a UI.
    """

    def __init__(self, frames: Frames, per_ui: int) -> None:
        self._frames, self._per_ui = frames, per_ui
        size = (frames.block_ui + frames.overlap_ui) * per_ui
        self._whole = np.zeros(size, np.float32)

    def push(self, samples: Samples) -> Samples:
        """The frames of the next block, shape (rows, frame_ui * per_ui), a view that the next `push` overwrites.

        Args:
            samples: shape (block_ui * per_ui,).
        """
        kept = self._frames.overlap_ui * self._per_ui
        self._whole[:kept] = self._whole[-kept:].copy()
        self._whole[kept:] = samples
        step = self._frames.fresh_ui * self._per_ui
        shape = (self._frames.rows, self._frames.frame_ui * self._per_ui)
        item = self._whole.itemsize
        return np.lib.stride_tricks.as_strided(self._whole, shape, (step * item, item), writeable=False)


def joined(frames: Frames, per_ui: int, rows: Samples, margin_ui: int = MARGIN_UI) -> Samples:
    """A block from filtered frames, with its margins on both sides.

    Args:
        frames: their geometry.
        per_ui: samples a UI.
        rows: shape (rows, frame_ui * per_ui).
        margin_ui: length of each margin, UI.

    Returns:
        Shape ((block_ui + 2 margin_ui) * per_ui,).
    """
    margin, fresh = margin_ui * per_ui, frames.fresh_ui * per_ui
    first = frames.overlap_ui * per_ui - 2 * margin
    block = np.empty(frames.rows * fresh + 2 * margin, np.float32)
    block[:margin] = rows[0, first : first + margin]
    block[margin:-margin].reshape(frames.rows, fresh)[:] = rows[:, first + margin : first + margin + fresh]
    block[-margin:] = rows[-1, -margin:]
    return block
