"""Whether the numbers of a Touchstone file can be what its option line says they are.

DB, MA and RI, or columns in another order, all parse; a network that amplifies without bound, while the same numbers
are a passive network in another format, was not measured so.
"""

from collections.abc import Callable, Iterator

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.errors import NotStatedError, TableError
from workbench.measured.touchstone.scan import Scanned
from workbench.measured.touchstone.words import FORMATS

GAIN = 1.05
"""A largest singular value that no passive network's measurement has: what is above it was looked at twice."""
_PASSIVE = 1.02
_TOO_MUCH = 1.5
"""Below this a measurement may be off; columns in another order make more of it."""
_ODD, _FAR_LESS = 20.0, 5.0
"""An amplifier of 26 dB is odd in a lane; where another format makes far less of it, the option line is asked about."""
_LARGEST_SCATTERING = 1e3
_SMALL_ANGLE = 1.0
_FEW_POINTS = 8
_ONE_WAY = 0.05


def doubtful(scanned: Scanned, s: Complexes) -> Iterator[str]:
    """Sentences on what looks odd; what is surely something else is refused.

    Args:
        scanned: the file as it stands.
        s: what was made of it, shape (ports, ports, n).

    Raises:
        TableError: a magnitude below zero, or parameters beyond any network's.
        NotStatedError: they amplify as they stand, and are passive, or far tamer, in another format.
    """
    if scanned.option.format == "MA":
        _refuse_negative(scanned)
    gain = largest_singular(s)
    if not np.isfinite(gain).all() or gain.max() > GAIN:
        _refuse_other_format(scanned, float(np.nan_to_num(gain, nan=np.inf).max()))
        _refuse_beyond_reason(scanned, gain)
        yield f"it amplifies: its largest singular value is {gain.max():.3g}, a passive network's is at most 1"
    if scanned.ports == 2 and scanned.version == "1" and np.abs(s[1, 0] - s[0, 1]).max() > _ONE_WAY:
        yield "both directions differ, and version 1 writes S21 before S12: see that the exporting program did so"
    small = scanned.option.format != "RI" and np.abs(scanned.numbers[:, 1::2]).max() <= _SMALL_ANGLE
    if small and scanned.f.size >= _FEW_POINTS and np.abs(scanned.numbers[:, 1::2]).max() > 0.0:
        yield f"every angle is at most {_SMALL_ANGLE:g} degree; if they are imaginary parts, the option line needs RI"


def largest_singular(s: Complexes) -> Floats:
    """The largest singular value of scattering matrices at each frequency; `s` of shape (ports, ports, n)."""
    by_frequency = np.moveaxis(np.nan_to_num(s, nan=1e150, posinf=1e150, neginf=-1e150), -1, 0)
    return np.asarray(np.linalg.svd(by_frequency, compute_uv=False)[:, 0])


def _refuse_negative(scanned: Scanned) -> None:
    below = np.nonzero((scanned.numbers[:, ::2] < 0.0).any(axis=1))[0]
    if below.size:
        problem = "a magnitude is below 0, though the option line says MA"
        remedy = "write DB or RI into the option line, whichever holds, or put each angle after its magnitude"
        raise TableError(scanned.source, scanned.lines[int(below[0])], problem, remedy)


def _refuse_beyond_reason(scanned: Scanned, gain: Floats) -> None:
    beyond = np.nonzero(~(gain <= _LARGEST_SCATTERING))[0]
    if beyond.size:
        problem = f"scattering parameters reach {gain[int(beyond[0])]:.2g}, more than any network's"
        remedy = "check format and order of the columns against the option line"
        raise TableError(scanned.source, scanned.lines[int(beyond[0])], problem, remedy)


def _refuse_other_format(scanned: Scanned, gain: float) -> None:
    stated = scanned.option.format
    for words, passive_as in _READINGS.items():
        if words == stated or (words not in FORMATS and gain < _TOO_MUCH):
            continue
        values = passive_as(scanned.numbers)
        other = np.inf if values is None else float(largest_singular(_matrices(values, scanned)).max())
        if other <= _PASSIVE or (gain > _ODD and other < gain / _FAR_LESS):
            less = "they are a passive network" if other <= _PASSIVE else f"{other:.3g} times"
            raise NotStatedError(
                scanned.source, scanned.option.line,
                f"as {stated} the numbers amplify ({gain:.3g} times), as {words} {less}",
                "correct the option line, or state that it can be trusted as it stands", wanted="trusted",
            )  # fmt: skip


def _matrices(values: Complexes, scanned: Scanned) -> Complexes:
    """Elements of each frequency as matrices, shape (ports, ports, n)."""
    ports = scanned.ports
    whole = np.zeros((ports, ports, values.shape[0]), np.complex128)
    if scanned.shape == "full":
        return np.asarray(values.T.reshape(ports, ports, -1))
    rows, columns = np.tril_indices(ports) if scanned.shape == "lower" else np.triu_indices(ports)
    whole[columns, rows] = whole[rows, columns] = values.T
    return whole


def _polar(size: Floats, angle: Floats) -> Complexes | None:
    return None if (size < 0.0).any() else np.asarray(size * np.exp(1j * np.radians(angle)))


def _decibels(size: Floats, angle: Floats) -> Complexes:
    return np.asarray(10.0 ** (np.minimum(size, 3000.0) / 20.0) * np.exp(1j * np.radians(angle)))


def _cartesian(real: Floats, imaginary: Floats) -> Complexes:
    return np.asarray(real + 1j * imaginary)


def _halves(numbers: Floats) -> tuple[Floats, Floats]:
    half = numbers.shape[1] // 2
    return numbers[:, :half], numbers[:, half:]


_READINGS: dict[str, Callable[[Floats], Complexes | None]] = {
    "MA": lambda n: _polar(n[:, ::2], n[:, 1::2]),
    "DB": lambda n: _decibels(n[:, ::2], n[:, 1::2]),
    "RI": lambda n: _cartesian(n[:, ::2], n[:, 1::2]),
    "MA with all magnitudes before all angles": lambda n: _polar(*_halves(n)),
    "DB with all magnitudes before all angles": lambda n: _decibels(*_halves(n)),
    "RI with all real before all imaginary parts": lambda n: _cartesian(*_halves(n)),
}
