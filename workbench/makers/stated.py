"""Jitter and noise that a model states, in the figures of this program, each with the sentence that tells how.

Tx_Dj and its like are half of peak to peak (the post on BIRD 123.2); the receiver's clock-recovery figures count only
where no clocks are returned (the ibis-macro list of April, September and December 2011); that Rj is one sigma is
unverified.
"""

import math
from collections.abc import Iterator
from typing import Literal, NamedTuple

from workbench.makers.ami import AmiFile
from workbench.makers.parameter_string import NOTHING_TOLD, Told
from workbench.makers.parameters import Parameter
from workbench.makers.values import CornerName

Direction = Literal["transmitter", "receiver"]


class StatedByModel(NamedTuple):
    """What a model says about its own jitter, noise and threshold.

    Attributes:
        random_jitter_s: rms, s.
        deterministic_jitter_s: dual-Dirac, peak to peak, s.
        noise_v: Gaussian, rms, V, at the decision point.
        sensitivity_v: distance from the threshold that a decision needs, V; twice that is peak to peak.
        clock_offset_s: how much later than half way between the crossings the receiver samples, s.
        sentences: how each figure was mapped, and what is not used, one sentence per figure.
    """

    random_jitter_s: float = 0.0
    deterministic_jitter_s: float = 0.0
    noise_v: float = 0.0
    sensitivity_v: float = 0.0
    clock_offset_s: float = 0.0
    sentences: tuple[str, ...] = ()


_RANDOM = {
    "transmitter": ("Tx_Rj",), "receiver": ("Rx_Rj",), "clock": ("Rx_Clock_Recovery_Rj",)
}  # fmt: skip
_BOUNDED = {
    "transmitter": ("Tx_Dj", "Tx_DCD", "Tx_Sj"),
    "receiver": ("Rx_Dj", "Rx_DCD", "Rx_Sj"),
    "clock": ("Rx_Clock_Recovery_Dj", "Rx_Clock_Recovery_DCD", "Rx_Clock_Recovery_Sj"),
}


def stated_by(
    file: AmiFile,
    direction: Direction,
    *,
    bit_time_s: float,
    told: Told = NOTHING_TOLD,
    clocks: bool = False,
    corner: CornerName = "typ",
) -> StatedByModel:
    """What a model states, mapped.

    Args:
        file: the model's parameters.
        direction: which end of the lane the model stands at.
        bit_time_s: one symbol, s; figures of the type UI are shares of it.
        told: what AMI_Init gave back; counts for parameters of Usage Out, InOut and Dep.
        clocks: whether the model returns clocks, which then hold the clock recovery's jitter already.
        corner: whose values hold where the file has one per corner.
    """
    return _Mapping(file, direction, bit_time_s, told, clocks=clocks, corner=corner).all()


class _Mapping:
    def __init__(
        self, file: AmiFile, direction: Direction, bit_time_s: float, told: Told, *, clocks: bool, corner: CornerName
    ) -> None:
        self._file, self._direction, self._told = file, direction, told
        self._bit_time_s, self._clocks, self._corner = bit_time_s, clocks, corner
        self._said: list[str] = []

    def all(self) -> StatedByModel:
        where: tuple[str, ...] = (self._direction,)
        if self._direction == "receiver":
            where = self._sources()
        random = [self._seconds(name) for at in where for name in _RANDOM[at]]
        bounded = [self._bounded(name) for at in where for name in _BOUNDED[at]]
        density_random, density_bounded = self._density()
        receives = self._direction == "receiver"
        found = StatedByModel(
            random_jitter_s=math.hypot(*random, density_random),
            deterministic_jitter_s=sum((*bounded, density_bounded)),
            noise_v=self._noise() if receives else 0.0,
            sensitivity_v=self._volts("Rx_Receiver_Sensitivity", "the smallest opening, half of it")
            if receives
            else 0.0,
            clock_offset_s=self._offset() if receives and not self._clocks else 0.0,
        )
        return found._replace(sentences=tuple(self._said))

    def _sources(self) -> tuple[str, ...]:
        """The receiver's own jitter always, the clock recovery's where no clocks bring it along."""
        names = [name for name in (*_RANDOM["clock"], *_BOUNDED["clock"]) if self._file.reserved(name)]
        if self._clocks and names:
            self._said.append(
                f"{', '.join(names)}: not counted, since the clocks that the model returns hold it already."
            )
        return ("receiver",) if self._clocks else ("receiver", "clock")

    def _figure(self, name: str) -> tuple[float, Parameter] | None:
        known = self._file.reserved(name)
        if known is None:
            return None
        value = self._told.number(name) if known.usage in ("Out", "InOut", "Dep") else None
        if value is None:
            initial = known.initial(self._corner)
            if not isinstance(initial, (int, float)) or isinstance(initial, bool):
                self._said.append(f"{name}: not used, for it is not a single number.")
                return None
            value = float(initial)
        return value, known

    def _seconds(self, name: str, meaning: str = "random jitter, rms") -> float:
        found = self._figure(name)
        if found is None:
            return 0.0
        value, known = found
        seconds = value * (self._bit_time_s if known.type == "UI" else 1.0)
        self._said.append(f"{name} = {value:g} {_unit(known)}: {meaning}, {seconds * 1e12:.4g} ps.")
        return seconds

    def _bounded(self, name: str) -> float:
        if name.endswith("_Sj") and name == "Tx_Sj" and not self._file.reserved("Tx_Sj_Frequency"):
            if self._file.reserved(name):
                self._said.append("Tx_Sj: not counted, for the file gives no Tx_Sj_Frequency with it.")
            return 0.0
        found = self._figure(name)
        if found is None:
            return 0.0
        value, known = found
        both = 2.0 * value * (self._bit_time_s if known.type == "UI" else 1.0)
        kind = "of a sine" if name.endswith("_Sj") else "of duty cycle" if name.endswith("_DCD") else "of a uniform one"
        self._said.append(
            f"{name} = {value:g} {_unit(known)}, half the peak to peak {kind}: deterministic jitter of "
            f"{both * 1e12:.4g} ps peak to peak, taken as dual-Dirac, which is at least as wide."
        )
        return both

    def _density(self) -> tuple[float, float]:
        """Random (rms) and bounded (peak to peak) jitter, s, of the older files' densities."""
        name = "Tx_Jitter" if self._direction == "transmitter" else "Rx_Clock_PDF"
        known = self._file.reserved(name)
        if known is None or known.format is None or (name == "Rx_Clock_PDF" and self._clocks):
            return 0.0, 0.0
        figures = [float(value) for value in known.format.values if not isinstance(value, str)]
        scale = self._bit_time_s if known.type == "UI" else 1.0
        match known.format.name:
            case "Gaussian":
                random, bounded = figures[1], 0.0
            case "Dual-Dirac":
                random, bounded = figures[2], abs(figures[1] - figures[0])
            case "DjRj":
                random, bounded = figures[2], abs(figures[1] - figures[0])
            case other:
                self._said.append(f"{name}: not used, for its format {other} is not read here.")
                return 0.0, 0.0
        self._said.append(
            f"{name} ({known.format.name}): {random * scale * 1e12:.4g} ps rms random and "
            f"{bounded * scale * 1e12:.4g} ps peak to peak deterministic jitter; its mean is left to the clock."
        )
        return random * scale, bounded * scale

    def _volts(self, name: str, meaning: str) -> float:
        found = self._figure(name)
        if found is None:
            return 0.0
        self._said.append(f"{name} = {found[0]:g} V: {meaning}.")
        return found[0]

    def _noise(self) -> float:
        squares = 0.0
        for name in ("Rx_Noise", "Rx_GaussianNoise"):
            squares += self._volts(name, "Gaussian noise at the decision point, rms") ** 2
            if squares:
                break
        if self._file.reserved("Rx_UniformNoise"):
            self._said.append("Rx_UniformNoise: not counted; take it off the margin by hand.")
        return math.sqrt(squares)

    def _offset(self) -> float:
        return self._seconds("Rx_Clock_Recovery_Mean", "sampling later than half way between the crossings by")


def _unit(known: Parameter) -> str:
    return "UI" if known.type == "UI" else "s"


def unused(file: AmiFile) -> Iterator[str]:
    """Sentences for reserved parameters that are read and ask for more than is done here."""
    if file.value("BCI_Protocol"):
        yield "BCI_Protocol: link training through the models is not supported; the model is run without it."
    if file.reserved("Ts4file"):
        yield "Ts4file: the four-port buffer is not used; the lane's own terminations and package stand in its place."
