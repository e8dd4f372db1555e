"""A linear stretch of a lane as a filter of blocks, with the noise that enters at its end."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from workbench.arrays import Complexes, Floats, Samples
from workbench.waveform.frames import MARGIN_UI, Framed, Frames, joined

SpectrumRows = npt.NDArray[np.complex64]


class FilterResponse(NamedTuple):
    """What a filter does.

    Attributes:
        gain: complex, at the frequencies of a frame from 0 Hz on, shape (points,); it contains `lead_ui` of delay.
        noise: amplitude density of the noise at its output, V/sqrt(Hz), shape (points,); None without noise.
        lead_ui: how far, in UI, its response may lie ahead of the time of flight.
    """

    gain: Complexes
    noise: Floats | None
    lead_ui: int


class Filter:
    """A filter that takes blocks of samples; each `push` goes on where the last one ended.

    Args:
        frames: how blocks are cut.
        response: what it does.
        ui_s: unit interval, s.
        into: samples a UI of what is pushed.
        out: samples a UI of what comes.
        shifts: into how many places between two samples the output's samples may be shifted.
        random: where noise comes from.
        margin_ui: of the blocks that come, UI.
    """

    def __init__(
        self,
        frames: Frames,
        response: FilterResponse,
        *,
        ui_s: float,
        into: int,
        out: int,
        random: np.random.Generator,
        shifts: int = 1,
        margin_ui: int = MARGIN_UI,
    ) -> None:
        import scipy.fft  # noqa: PLC0415 - the program starts without it; it transforms several rows at a time

        self._fft = scipy.fft
        self._frames, self._out, self._margin_ui = frames, out, margin_ui
        points = min(response.gain.size, frames.frame_ui * min(into, out) // 2 + 1)
        gain = response.gain[:points] * (out / into)
        turn = np.exp(2j * np.pi * np.arange(points) / frames.frame_ui / (out * shifts))
        self._gains = [(gain * turn**shift).astype(np.complex64) for shift in range(shifts)]
        self._framed = Framed(frames, into)
        self._noise = None if response.noise is None else _Noise(frames, response.noise, ui_s, out, random)
        self.lag_ui = response.lead_ui + 2 * margin_ui
        """How far the first sample of what comes lies before the block that was pushed, UI."""

    def push(self, samples: Samples, shift: int = 0) -> Samples:
        """The next block with its margins, shape ((block_ui + 2 margin_ui) * out,).

        Args:
            samples: shape (block_ui * into,).
            shift: how many of the places between two samples the output is sampled later.
        """
        gain = self._gains[shift]
        spectrum = self._fft.rfft(self._framed.push(samples), axis=-1)[:, : gain.size]
        spectrum *= gain
        if self._noise is not None:
            heard = self._noise.draw()
            bins = min(heard.shape[1], spectrum.shape[1])
            spectrum[:, :bins] += heard[:, :bins]
        rows = self._fft.irfft(spectrum, self._frames.frame_ui * self._out, axis=-1, overwrite_x=True)
        return joined(self._frames, self._out, rows, self._margin_ui)


class _Noise:
    """Gaussian noise of a density, as spectra of frames: white samples at a low rate, framed as the wave is.

    A shift between samples is of no account to noise, so it gets none.
    """

    def __init__(
        self, frames: Frames, density: Floats, ui_s: float, out: int, random: np.random.Generator
    ) -> None:
        import scipy.fft  # noqa: PLC0415 - as above

        self._fft = scipy.fft
        heard = int(np.nonzero(density)[0][-1]) + 1 if density.any() else 1
        per_ui = 2
        while per_ui < out and heard > frames.frame_ui * per_ui // 2:
            per_ui *= 2
        points = min(heard, frames.frame_ui * per_ui // 2 + 1)
        # White samples of variance 1 at rate r have the one-sided density 2/r.
        shape = density[:points] * np.sqrt(per_ui / ui_s / 2.0)
        self._shape = (shape * (out / per_ui)).astype(np.float32)
        self._framed, self._random = Framed(frames, per_ui), random
        self._count = frames.block_ui * per_ui

    def draw(self) -> SpectrumRows:
        """Spectra of the next block's frames, shape (rows, points)."""
        white = self._random.standard_normal(self._count, np.float32)
        spectrum: SpectrumRows = self._fft.rfft(self._framed.push(white), axis=-1)[:, : self._shape.size]
        spectrum *= self._shape
        return spectrum
