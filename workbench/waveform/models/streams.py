"""What stands between blocks and a model: the stimulus drawn, models in a row, a receiver's wave with its margins."""

import numpy as np

from workbench.arrays import Complexes, Floats, Samples
from workbench.makers.flows import HALF_SWING, Running


def averaging(f_per_rate: Floats) -> Complexes:
    """What turns the spectrum of averaged samples of the stimulus into that of true steps of half the lane's swing.

    Args:
        f_per_rate: frequencies over the sampling rate, shape (n,).

    Returns:
        Complex, shape (n,).
    """
    return np.asarray(np.exp(-1j * np.pi * f_per_rate) / np.sinc(f_per_rate) / HALF_SWING, np.complex128)


class Stimulus:
    """A wave of -1/2 and +1/2 from steps at any instants: each sample is the mean up to the next one.

    So an edge falls within two samples, as a model that looks at levels expects. What an edge between two samples loses
    by that is below ``(x / (1 - x))^2`` of it at the share x of the sampling rate: 0.1 % at Nyquist, 16 samples a UI.

    Args:
        per_ui: samples a UI.
        reach_ui: how far, in UI, a step may lie before the block that it is pushed with, or after it.
        level: the level before the first step, in units of half the lane's swing.
    """

    def __init__(self, per_ui: int, reach_ui: float, level: float) -> None:
        self._per_ui, self._level = per_ui, level * HALF_SWING
        self.delay_ui = int(np.ceil(reach_ui + 2.0 / per_ui))
        """By how much, in UI, the samples lag behind the block that was pushed."""
        self._left = np.zeros(0)

    def push(self, start_ui: float, length_ui: int, time_ui: Floats, step: Samples) -> Floats:
        """The samples of `length_ui` UI from `start_ui` less `delay_ui` on.

        Args:
            start_ui: where the block starts, UI.
            length_ui: how many UI it has.
            time_ui: instants of its steps, UI, shape (n,).
            step: their heights in units of half the lane's swing, shape (n,).

        Returns:
            Shape (length_ui * per_ui,).
        """
        size = length_ui * self._per_ui
        place = (time_ui - (start_ui - self.delay_ui)) * self._per_ui
        at = np.floor(place).astype(np.intp)
        late = place - at
        rises = np.zeros(size + (2 * self.delay_ui + 1) * self._per_ui)
        rises[: self._left.size] = self._left
        height = step.astype(np.float64) * HALF_SWING
        np.add.at(rises, at, height * (1.0 - late))
        np.add.at(rises, at + 1, height * late)
        self._left = rises[size:].copy()
        wave = self._level + np.cumsum(rises[:size])
        self._level = float(wave[-1])
        return wave


class InARow:
    """Models that a wave goes through one after the other, in place of a stage.

    Args:
        models: started, at least one.
        per_ui: samples a UI.
    """

    def __init__(self, models: tuple[Running, ...], per_ui: int) -> None:
        self._models, self._per_ui = models, per_ui

    def push(self, start_ui: float, margin_ui: int, wave: Samples) -> Samples:
        """The next block's output, shape (block_ui * per_ui,), of a wave with margins, as `Saturating.push`.

        Args:
            start_ui: where the wave starts, UI, which is all the same.
            margin_ui: how far it reaches beyond the block on both sides, UI.
            wave: shape ((block_ui + 2 margin_ui) * per_ui,).

        Raises:
            ModelRunError: a model's code gave no answer.
        """
        del start_ui
        margin = margin_ui * self._per_ui
        passed: Floats | Samples = wave[margin:-margin]
        for model in self._models:
            passed = model.push(passed).wave_v
        return np.asarray(passed, np.float32)


class Receiving:
    """A receiver's model: it gets each sample once, and what it gives back is laid out with margins again.

    Args:
        model: started.
        per_ui: samples a UI.
        margin_ui: of the blocks, UI.
        ui_s: unit interval, s.
    """

    def __init__(self, model: Running, *, per_ui: int, margin_ui: int, ui_s: float) -> None:
        self._model, self._per_ui, self._margin_ui, self._ui_s = model, per_ui, margin_ui, ui_s
        self._kept = np.zeros(2 * margin_ui * per_ui, np.float32)
        self._began_ui: float | None = None
        self.clocks_ui = np.zeros(0)
        """Where the clocks that it returned stand on the lane's own scale, UI, shape (n,)."""

    def push(self, start_ui: float, wave: Samples) -> tuple[float, Samples]:
        """Where the next block starts, UI, and the block with its margins, shape as `wave`, V.

        Args:
            start_ui: where the wave's first sample stands, UI.
            wave: shape ((block_ui + 2 margin_ui) * per_ui,).

        Raises:
            ModelRunError: the model's code gave no answer.
        """
        margin = self._margin_ui * self._per_ui
        if self._began_ui is None:
            self._began_ui = start_ui + self._margin_ui
        found = self._model.push(wave[margin:-margin])
        if found.clocks_s.size:
            self.clocks_ui = np.concatenate([self.clocks_ui, self._began_ui + found.clocks_s / self._ui_s])
        whole = np.concatenate([self._kept, found.wave_v.astype(np.float32)])
        self._kept = whole[-2 * margin :].copy()
        return start_ui - self._margin_ui, whole
