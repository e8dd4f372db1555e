"""Networks: connectors, cables and whole channels as they were measured, kept in the board file in full."""

import math
from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import Annotated, ClassVar, Literal, NamedTuple

import msgspec
import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.facts import choice, quantity, text
from workbench.parts.fourport import FourPort
from workbench.parts.networks.block import Matrices, matrices_of, most_points
from workbench.parts.networks.conversion import ModeCurve, four_port_at, mode_curve
from workbench.parts.networks.curve import NetworkCurve, curve_of, two_port_at, with_capacitor
from workbench.parts.networks.response import Response, response_of
from workbench.parts.networks.waves import modes_of, renormalized
from workbench.parts.record import ComponentRecord, Crosstalk, Name, Parts, Problem, Record
from workbench.parts.twoport import REFERENCE_OHM, TwoPort

_CLOSEST = 1e-12
"""Frequencies closer to each other than this share of the highest are one."""
_KEPT_CURVES, _KEPT_CROSSINGS = 64, 256
_unpacked = lru_cache(maxsize=2)(matrices_of)
"""For a moment: the ways of one network are asked for one after the other."""
_BEYOND = 0.75
_PASSED = 0.01

Resistance = Annotated[float, msgspec.Meta(ge=1e-3, le=1e6)]


class PortPair(Record, kw_only=True):
    """One way through a network: the ports of its two ends. An end is a positive and a negative leg, or one port."""

    left: Annotated[int, quantity("", "Left", "Port where the signal enters: the positive leg, or all.", ge=1, le=64)]
    left_minus: Annotated[
        int, quantity("", "Left, negative", "Port of the negative leg there; 0 without one.", ge=0, le=64)
    ] = 0
    right: Annotated[int, quantity("", "Right", "Port where it leaves: the positive leg, or all.", ge=1, le=64)]
    right_minus: Annotated[
        int, quantity("", "Right, negative", "Port of the negative leg there; 0 without one.", ge=0, le=64)
    ] = 0

    @property
    def legs(self) -> int:
        """Ports at either end: 2, or 1 where a port is a whole end."""
        return 2 if self.left_minus else 1

    @property
    def ports(self) -> tuple[int, ...]:
        """All its ports: left end before right, positive before negative."""
        return tuple(port for port in (self.left, self.left_minus, self.right, self.right_minus) if port)

    def turned(self) -> "PortPair":
        """The same way from its right end to its left."""
        return PortPair(
            left=self.right, left_minus=self.right_minus, right=self.left, right_minus=self.left_minus
        )


class Repair(Record, kw_only=True):
    """What was changed in a network's data, and by how much."""

    kind: Annotated[
        Literal["reciprocity", "passivity", "rest", "band"],
        choice("Repair", "What was repaired: reciprocity, passivity, the way to 0 Hz, or the upper end of the band."),
    ]
    did: Annotated[str, text("What it did", "What was changed, in a sentence.")] = ""
    largest_change: Annotated[
        float, quantity("", "Largest change", "Largest change of any scattering parameter.", ge=0.0, le=1e9)
    ] = 0.0


class Network(ComponentRecord, kw_only=True):
    """Imported Touchstone data of any number of ports. In a path stands one of its ways through."""

    section: ClassVar[str | None] = "networks"

    name: Name
    source: Annotated[str, text("Source", "Name of the file that it was imported from.")]
    source_sha256: Annotated[str, text("SHA-256", "SHA-256 of that file, hexadecimal.")]
    ports: Annotated[int, quantity("", "Ports", "Number of ports.", ge=2, le=64)]
    points: Annotated[int, quantity("", "Points", "Number of frequencies.", ge=2, le=10_000_000)]
    ports_are: Annotated[
        Literal["single-ended", "differential"],
        choice("Ports are", "Whether a port is one leg of a pair, or a whole differential pair."),
    ] = "single-ended"
    reference_ohm: Annotated[
        tuple[Resistance, ...], choice("References", "Reference resistance of each port in ohm.")
    ]
    port_names: Annotated[tuple[str, ...], choice("Port names", "Names of the ports, where the file has them.")] = ()
    pairs: Annotated[
        tuple[PortPair, ...], choice("Through paths", "Which ports belong together; a lane names its way by place.")
    ]
    repairs: Annotated[tuple[Repair, ...], choice("Repairs", "What was changed since the import.")] = ()
    data: Annotated[bytes, choice("Data", "Frequencies and matrices, packed.")]
    original_points: Annotated[
        int, quantity("", "Original points", "Frequencies before any repair; 0 without one.", ge=0, le=10_000_000)
    ] = 0
    original: Annotated[bytes, choice("Original", "The data as imported, packed; empty without a repair.")] = b""

    def matrices(self) -> Matrices:
        """Frequencies and matrices as they are used; unpacked at every call, so that they are not kept twice.

        Raises:
            ValueError: the packed data are damaged; a board that holds such a network is refused at load.
        """
        return matrices_of(self.data, self.ports, self.points)

    def original_matrices(self) -> Matrices:
        """Frequencies and matrices as they were imported.

        Raises:
            ValueError: as for `matrices`.
        """
        if not self.original:
            return self.matrices()
        return matrices_of(self.original, self.ports, self.original_points)

    def ways(self) -> int:
        """Its ways through."""
        return len(self.pairs)

    def by_way(self, way: int, *, backwards: bool) -> "Network":
        """The network with one of its ways, from 1, as the first; backwards from its right end to its left."""
        if way == 1 and not backwards:
            return self
        pair = self.pairs[way - 1]
        others = (*self.pairs[: way - 1], *self.pairs[way:])
        return msgspec.structs.replace(self, pairs=(pair.turned() if backwards else pair, *others))

    def crosstalk_from(self, other: Record, *, away: int, against: bool, length_m: float | None) -> Crosstalk | None:
        """Its own off-diagonal elements from another of its ways, however far apart; `length_m` (m) does not count."""
        del away, against, length_m
        if not isinstance(other, Network) or other.data != self.data:
            return None
        own, theirs = self.pairs[0], other.pairs[0]
        known = self.tells_crosstalk() and own not in (theirs, theirs.turned())
        return NetworkCrosstalk(self, theirs) if known else None

    def tells_crosstalk(self) -> bool:
        """Whether its ways are several whole pairs: a single leg of each says nothing of how pairs couple."""
        whole = self.ports_are == "differential" or all(pair.legs == 2 for pair in self.pairs)
        return whole and len(self.pairs) > 1

    def chain_matrix(self, f_hz: Floats, parts: Parts) -> TwoPort:
        """The first way through at `f_hz` (Hz, shape (n,)), with its capacitor, which at 0 Hz is a short."""
        return with_capacitor(_seen_of(self).curve, self.fast_matrix(f_hz, parts), f_hz)

    def fast_matrix(self, f_hz: Floats, parts: Parts) -> TwoPort:
        """The same (`f_hz` in Hz, shape (n,)) with a capacitor in the path, where the data show one, a short."""
        del parts
        return two_port_at(_seen_of(self).curve, f_hz)

    def mode_ports(self, f_hz: Floats, parts: Parts, differential: TwoPort) -> FourPort | None:
        """Both modes of the first way through at `f_hz` (Hz, shape (n,)), where they turn into one another."""
        del parts
        curve = _seen_of(self).modes
        return None if curve is None else four_port_at(curve, differential, f_hz)

    def converts(self, parts: Parts) -> bool:
        """Whether its modes turn into one another by more than hardly anything."""
        del parts
        return _seen_of(self).modes is not None

    def flight_time_s(self, parts: Parts) -> float:
        """The bulk delay of the first way through in s."""
        del parts
        return _seen_of(self).curve.delay_s

    def corner_hz(self, loop_ohm: float) -> float | None:
        """The high-pass corner in Hz with `loop_ohm` (ohm) around, where the data show a capacitor in the path."""
        elastance = _seen_of(self).curve.elastance_per_f
        return elastance / (2.0 * math.pi * loop_ohm) if elastance > 0.0 else None

    def problems(self) -> tuple[Problem, ...]:
        """Ports that are not there, and data that don't unpack."""
        return _problems(self)

    def cautions(self, parts: Parts, f_max_hz: float) -> tuple[str, ...]:
        """Where the data end before `f_max_hz` (Hz), or hardly anything passes."""
        del parts
        return tuple(_cautions(_seen_of(self), f_max_hz))


def legs_of(pair: PortPair) -> tuple[tuple[int, int], ...]:
    """The single ways of a pair's legs as (left port, right port), positive first."""
    positive = (pair.left, pair.right)
    return (positive, (pair.left_minus, pair.right_minus)) if pair.legs == 2 else (positive,)


class NetworkCrosstalk(Crosstalk, frozen=True):
    """What a pair through a network brings into the pair on its first way."""

    network: Network
    other: PortPair

    def waves(self, f_hz: Floats) -> Complexes:
        """The network's off-diagonal elements at `f_hz` (Hz, shape (n,)); shape (2, 2, n)."""
        elements = _cross_of(self.network, self.other)
        return np.array([[element.whole_at(f_hz) for element in row] for row in elements])


@lru_cache(maxsize=_KEPT_CROSSINGS)
def _cross_of(network: Network, other: PortPair) -> tuple[tuple[Response, ...], ...]:
    f_hz, s = _unpacked(network.data, network.ports, network.points)
    both, ohm = differential_ways(network, s, (network.pairs[0], other))
    cross = renormalized(both, ohm, (REFERENCE_OHM,) * len(ohm))[:2, 2:]
    return tuple(tuple(response_of(f_hz, element) for element in row) for row in cross)


class _Seen(NamedTuple):
    """What the engine asks of a network, small: the first way through, and what is known about its data.

    Attributes:
        curve: the differential two-port.
        high_hz: where the data end, Hz.
        passed: the largest transmission of any frequency.
        modes: its common mode and what turns into it; None where next to nothing does, or its legs are not known.
    """

    curve: NetworkCurve
    high_hz: float
    passed: float
    modes: ModeCurve | None = None


@lru_cache(maxsize=_KEPT_CURVES)
def _seen_of(network: Network) -> _Seen:
    f_hz, s = _unpacked(network.data, network.ports, network.points)
    pair = network.pairs[0]
    two_port, left_ohm, right_ohm = differential(network, s, pair)
    curve = curve_of(f_hz, two_port, left_ohm, right_ohm)
    modes = mode_curve(f_hz, mixed_modes(network, s, pair)[0], left_ohm, right_ohm, curve) if pair.legs == 2 else None
    return _Seen(
        curve=curve,
        modes=modes,
        high_hz=float(f_hz[-1]),
        passed=float(np.abs(two_port[1, 0]).max()),
    )


def mixed_modes(network: Network, s: Complexes, pair: PortPair) -> tuple[Complexes, float, float]:
    """One way through of four legs as modes, the other ports matched.

    Args:
        network: whose.
        s: its matrices, shape (ports, ports, n).
        pair: the way through, two ports at either end.

    Returns:
        Modes D left, D right, C left, C right, shape (4, 4, n), and the differential reference of the left and right
        end in ohm.
    """
    at = np.array(pair.ports) - 1
    own = [network.reference_ohm[port] for port in at]
    left_ohm, right_ohm = 0.5 * (own[0] + own[1]), 0.5 * (own[2] + own[3])
    legs = renormalized(s[np.ix_(at, at)], own, (left_ohm, left_ohm, right_ohm, right_ohm))
    return modes_of(legs), 2.0 * left_ohm, 2.0 * right_ohm


def differential(network: Network, s: Complexes, pair: PortPair) -> tuple[Complexes, float, float]:
    """One way through as a differential two-port, the other ports and the common modes matched.

    A single leg stands for a pair of two such legs without coupling.

    Args:
        network: whose.
        s: its matrices, shape (ports, ports, n).
        pair: the way through.

    Returns:
        Scattering matrices, shape (2, 2, n), and the differential reference of the left and right end in ohm.
    """
    two_port, (left_ohm, right_ohm) = differential_ways(network, s, (pair,))
    return two_port, left_ohm, right_ohm


def differential_ways(
    network: Network, s: Complexes, pairs: Sequence[PortPair]
) -> tuple[Complexes, tuple[float, ...]]:
    """Several ways through as differential ports, left end and right end of each in turn; see `differential`.

    Args:
        network: whose.
        s: its matrices, shape (ports, ports, n).
        pairs: the ways.

    Returns:
        Scattering matrices, shape (2 ways, 2 ways, n), and the differential reference of each port in ohm.
    """
    ends = [end for pair in pairs for end in ((pair.left, pair.left_minus), (pair.right, pair.right_minus))]
    legs = [tuple(port - 1 for port in end if port) for end in ends]
    at = [port for end in legs for port in end]
    equal_ohm = [float(np.mean([network.reference_ohm[port] for port in end])) for end in legs]
    to_modes = np.zeros((len(ends), len(at)))
    for row, end in enumerate(legs):
        for port, sign in zip(end, (1.0, -1.0), strict=False):
            to_modes[row, at.index(port)] = sign / math.sqrt(len(end))
    each_ohm = [ohm for end, ohm in zip(legs, equal_ohm, strict=True) for _ in end]
    alike = renormalized(s[np.ix_(at, at)], [network.reference_ohm[port] for port in at], each_ohm)
    whole = 1.0 if network.ports_are == "differential" else 2.0
    found = np.einsum("ia,abn,jb->ijn", to_modes, alike, to_modes, optimize=True)
    return np.ascontiguousarray(found), tuple(whole * ohm for ohm in equal_ohm)


@lru_cache(maxsize=_KEPT_CURVES)
def _problems(network: Network) -> tuple[Problem, ...]:
    return tuple(_port_problems(network)) or tuple(_data_problems(network))


def _port_problems(network: Network) -> Iterator[Problem]:
    if len(network.reference_ohm) != network.ports:
        problem = f"there are {len(network.reference_ohm)} references for {network.ports} ports"
        yield Problem("reference_ohm", problem, "give one per port")
    if len(network.port_names) not in (0, network.ports):
        problem = f"there are {len(network.port_names)} names for {network.ports} ports"
        yield Problem("port_names", problem, "give one per port, or none")
    used = [port for pair in network.pairs for port in pair.ports]
    if not network.pairs:
        yield Problem("pairs", "there is no through path", "say which ports are left and right")
    elif any(bool(pair.left_minus) != bool(pair.right_minus) for pair in network.pairs):
        yield Problem("pairs", "a through path has an N port at one end only", "give one at both ends, or at none")
    elif network.ports_are == "differential" and any(pair.legs == 2 for pair in network.pairs):
        yield Problem("pairs", "a through path has two ports an end, each a whole pair", "give one port at either end")
    elif len(set(used)) < len(used) or max(used) > network.ports:
        yield Problem("pairs", "a port is used twice, or not there", f"use each of 1 to {network.ports} at most once")


def _data_problems(network: Network) -> Iterator[Problem]:
    blocks = (("data", network.data, network.points), ("original", network.original, network.original_points))
    for field, block, points in blocks:
        if not block and field == "original":
            continue
        if points > (most := most_points(network.ports)):
            problem = f"{points:,} frequencies of {network.ports} ports are more than a board keeps"
            yield Problem("points" if field == "data" else "original_points", problem, f"keep {most:,} at most")
            continue
        try:
            f_hz, s = matrices_of(block, network.ports, points)
        except ValueError as error:
            yield Problem(field, str(error), "import the network again")
            continue
        if not (np.isfinite(f_hz).all() and np.isfinite(s).all()):
            yield Problem(field, "it holds a number that is not finite", "import the network again")
        elif f_hz[0] < 0.0 or (np.diff(f_hz) <= 0.0).any() or np.count_nonzero(f_hz > 0.0) < 2:
            yield Problem(field, "its frequencies do not rise from 0 Hz on, two or more of them", "import it again")
        elif (apart := np.diff(f_hz, prepend=-1.0 if f_hz[0] == 0.0 else 0.0)).min() < _CLOSEST * f_hz[-1]:
            at = int(apart.argmin())
            problem = f"its frequencies {f_hz[at - 1] if at else 0.0:g} and {f_hz[at]:g} Hz can't be told apart"
            yield Problem(field, problem, "remove one of the two, or write it as 0, and import it again")


def _cautions(seen: _Seen, f_max_hz: float) -> Iterator[str]:
    if seen.passed < _PASSED:
        yield f"its through path lets at most {seen.passed:.1g} pass at any frequency; see which ports belong together"
    if seen.high_hz < _BEYOND * f_max_hz:
        yield (
            f"its data end at {seen.high_hz / 1e9:.3g} GHz, short of the {_BEYOND * f_max_hz / 1e9:.3g} GHz that the "
            f"rate needs; beyond them stands the trend of their upper half"
        )
