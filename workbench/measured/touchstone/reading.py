"""Touchstone files in: 1.0, 1.1, 2.0 and 2.1, ``.s1p`` to ``.s64p`` and ``.ts``, as plain records.

The text is read line by line (`touchstone.scan`), which settles what the file says and refuses what it leaves open;
its numbers become matrices here, and scikit-rf makes scattering parameters of Z, Y, G and H matrices. The text is not
left to scikit-rf 2.2, which reads some of it otherwise than the specification says: option items in another order,
normalised Y, G and H of version 1, noise data at the last frequency, the sign of a mixed-mode pair whose ports fall,
comments that look like port impedances.
"""

import hashlib
from pathlib import Path
from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.board.reading import read_bytes
from workbench.errors import BoardFileError, NotStatedError, TableError
from workbench.measured.tables.decoding import TextSource, text_of_bytes
from workbench.measured.touchstone.doubts import doubtful
from workbench.measured.touchstone.scan import Scanned, scan
from workbench.measured.touchstone.words import Mode
from workbench.wording import quoted_path

_ANOTHER_FILE = "choose a Touchstone file"


class Measured(NamedTuple):
    """A network as it was measured, or computed elsewhere.

    Attributes:
        source: the file's name and the SHA-256 of its bytes.
        f_hz: frequencies, Hz, rising, shape (n,).
        s: scattering parameters, ports first, frequency last: shape (ports, ports, n), row by column as in S21.
        reference_ohm: the reference resistance of each port in ohm.
        port_names: one per port where the file has them, else empty.
        noise: noise data of a two-port as they stand there (frequency in the file's unit), shape (m, 5).
        notes: sentences about what was taken how; empty where nothing needed saying.
    """

    source: TextSource
    f_hz: Floats
    s: Complexes
    reference_ohm: tuple[float, ...]
    port_names: tuple[str, ...] = ()
    noise: Floats = np.zeros((0, 5))
    notes: tuple[str, ...] = ()

    @property
    def ports(self) -> int:
        """How many ports it has."""
        return len(self.reference_ohm)


def read_touchstone(path: Path | str, *, ports: int | None = None, trusted: bool = False) -> Measured:
    """Read a Touchstone file.

    Args:
        path: the file.
        ports: how many ports it has, where neither its name nor its content says it.
        trusted: True where the format that the option line states is known to be right, however odd the numbers look.

    Raises:
        TableError: the file can't be read, or breaks the format; the sentence names the line.
        NotStatedError: it reads, but what its numbers mean has to be stated.
    """
    try:
        data = read_bytes(Path(path))
    except BoardFileError as error:
        raise TableError(quoted_path(path), None, error.problem, error.remedy) from error
    return touchstone_of_bytes(data, Path(path).name, ports=ports, trusted=trusted)


def touchstone_of_bytes(data: bytes, name: str, *, ports: int | None = None, trusted: bool = False) -> Measured:
    """Read the bytes of a Touchstone file; as `read_touchstone`.

    Args:
        data: the bytes.
        name: the file's name; its ending gives the number of ports in version 1.
        ports: how many ports it has, where neither says it.
        trusted: as for `read_touchstone`.

    Raises:
        TableError: they break the format.
        NotStatedError: what the numbers mean has to be stated.
    """
    scanned = scan(_decoded(data, name), name, ports)
    notes = list(scanned.notes)
    _require_defined(scanned)
    problem = f"no finite scattering parameters follow from these {scanned.option.parameter} parameters"
    try:
        s = _scattering(scanned)
    except np.linalg.LinAlgError as error:
        raise TableError(name, scanned.option.line, problem, "export scattering parameters") from error
    broken = np.nonzero(~np.isfinite(s).all(axis=(0, 1)))[0]
    if broken.size:
        raise TableError(name, scanned.lines[int(broken[0])], problem, "export scattering parameters")
    if scanned.option.parameter == "S" and not trusted:
        notes += doubtful(scanned, s)
    reference = scanned.reference_ohm
    if scanned.modes:
        s = _single_ended(s, scanned.modes)
        notes.append("mixed-mode data, converted back to single-ended ports")
    source = TextSource(name, hashlib.sha256(data).hexdigest())
    f_hz = scanned.f * scanned.option.unit_hz
    return Measured(source, f_hz, s, reference, scanned.port_names, scanned.noise, tuple(notes))


def _decoded(data: bytes, name: str) -> str:
    """The text; an old encoding can only be in comments, where it does no harm."""
    try:
        try:
            return text_of_bytes(data, name).text
        except NotStatedError:
            return text_of_bytes(data, name, encoding="latin-1").text
    except TableError as error:
        raise TableError(name, error.line, error.problem, _ANOTHER_FILE) from error


def _matrices(scanned: Scanned) -> Complexes:
    """The file's matrices, row by column, frequency first: shape (n, ports, ports)."""
    option, ports = scanned.option, scanned.ports
    numbers = _not_normalised(scanned) if scanned.version == "1" and option.parameter != "S" else scanned.numbers
    first, second = numbers[:, ::2], numbers[:, 1::2]
    if option.format == "RI":
        values = first + 1j * second
    else:
        size = 10.0 ** (first / 20.0) if option.format == "DB" else first
        values = size * np.exp(1j * second * np.pi / 180.0)
    if scanned.shape == "full":
        whole = values.reshape(-1, ports, ports)
        return whole.transpose(0, 2, 1) if scanned.first_in_column else whole
    half = np.tril_indices(ports) if scanned.shape == "lower" else np.triu_indices(ports)
    matrices = np.empty((len(values), ports, ports), np.complex128)
    matrices[:, half[0], half[1]] = matrices[:, half[1], half[0]] = values
    return matrices


def _mode_references(scanned: Scanned) -> tuple[float, ...]:
    """Of each row: twice the ports' own for a differential mode, half for a common one (2.0, mixed-mode definitions).

    Raises:
        TableError: the two ports of a pair have not the same.
    """
    if not scanned.modes:
        return scanned.reference_ohm
    found = []
    for mode in scanned.modes:
        own = {scanned.reference_ohm[port - 1] for port in mode.ports}
        if len(own) > 1:
            problem = f"ports {mode.ports[0]} and {mode.ports[1]} form a pair, but have different references"
            raise TableError(scanned.source, None, problem, "export the data with one reference for both")
        found.append(own.pop() * {"D": 2.0, "C": 0.5, "S": 1.0}[mode.kind])
    return tuple(found)


_WITH_REFERENCE = {
    "Z": ((1.0, 1.0), (1.0, 1.0)), "Y": ((-1.0, -1.0), (-1.0, -1.0)), "H": ((1.0, 0.0), (0.0, -1.0)),
    "G": ((-1.0, 0.0), (0.0, 1.0)),
}  # fmt: skip
"""The power of R that version 1 divides each element by: it is 1.0 for ohms, -1.0 for siemens, 0 for bare ratios."""


def _require_defined(scanned: Scanned) -> None:
    """Refuse what has no meaning: hybrids of other than two ports, what several references of version 1 divide by.

    Raises:
        TableError: it has none.
    """
    option, ports = scanned.option, scanned.ports
    several = scanned.version == "1" and option.parameter != "S" and len(set(scanned.reference_ohm)) > 1
    if several or (option.parameter in "HG" and ports != 2):
        problem = f"{option.parameter} parameters of {ports} ports" + several * " with several references"
        raise TableError(scanned.source, option.line, f"{problem} are not defined", "export scattering parameters")


def _not_normalised(scanned: Scanned) -> Floats:
    """Numbers of version 1 as version 2 writes them, without the reference resistance divided out."""
    option, ports = scanned.option, scanned.ports
    powers = np.array(_WITH_REFERENCE[option.parameter])
    powers = np.full((ports, ports), powers[0, 0]) if ports != 2 else powers.T  # N11, N21, N12, N22
    factors = scanned.reference_ohm[0] ** powers.ravel()
    numbers = scanned.numbers.copy()
    if option.format == "DB":
        numbers[:, ::2] += 20.0 * np.log10(factors)
    else:
        numbers[:, ::2] *= factors
        if option.format == "RI":
            numbers[:, 1::2] *= factors
    return numbers


def _scattering(scanned: Scanned) -> Complexes:
    """The scattering parameters, shape (ports, ports, n); raises LinAlgError where none follow."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        matrices = _matrices(scanned)
        if scanned.option.parameter != "S":
            from skrf import network  # noqa: PLC0415 - loaded only where such a file is read

            turned = {"Z": network.z2s, "Y": network.y2s, "H": network.h2s, "G": network.g2s}
            matrices = turned[scanned.option.parameter](matrices, np.array(_mode_references(scanned)))
    return np.ascontiguousarray(np.moveaxis(matrices, 0, -1), np.complex128)


def _single_ended(s: Complexes, modes: tuple[Mode, ...]) -> Complexes:
    """Mixed-mode parameters taken back to ports.

    With twice the reference for the difference and half for the sum, waves of modes are those of ports turned by 45
    degrees: ``a_d = (a_1 - a_2) / sqrt 2``, ``a_c = (a_1 + a_2) / sqrt 2``.
    """
    turn = np.zeros((len(modes), len(modes)))
    for row, mode in enumerate(modes):
        at = [port - 1 for port in sorted(mode.ports)] if mode.kind == "C" else [port - 1 for port in mode.ports]
        turn[row, at[0]] = 1.0 if mode.kind == "S" else np.sqrt(0.5)
        if mode.kind != "S":
            turn[row, at[1]] = -np.sqrt(0.5) if mode.kind == "D" else np.sqrt(0.5)
    return np.asarray(np.einsum("ia,ijn,jb->abn", turn, s, turn, optimize=True))
