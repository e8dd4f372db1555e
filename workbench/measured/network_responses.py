"""A measured network (Touchstone) as the transmission and reflection that are laid beside a lane or fitted to."""

from typing import NamedTuple

from workbench.arrays import Complexes
from workbench.board.measurement import MeasuredResponse
from workbench.errors import TableError
from workbench.measured.tables.decoding import TextSource
from workbench.measured.tables.frequency_tables import FEWEST_POINTS, MeasuredStretch, response_of
from workbench.measured.tables.traces import Belongs
from workbench.measured.touchstone.ports import DIFFERENTIAL_OHM
from workbench.measured.touchstone.reading import Measured
from workbench.measured.touchstone.repair_fixture import WithPorts, removed
from workbench.parts.network import Network, differential
from workbench.parts.networks.waves import renormalized


class Responses(NamedTuple):
    """Transmission and reflection of one network, and sentences on what removing its fixtures left doubtful."""

    transmission: MeasuredResponse
    reflection: MeasuredResponse
    warnings: tuple[str, ...]


def reflection_of(measured: Measured, belongs: Belongs, stretch: MeasuredStretch) -> MeasuredResponse:
    """A one-port's reflection as a measurement.

    A port of less than `DIFFERENTIAL_OHM` is one leg of a pair and stands for a pair of two such legs.

    Args:
        measured: a network of one port.
        belongs: its name, lane and probe point.
        stretch: what the probe sees, and the reference that it is turned to.

    Raises:
        TableError: it has too few frequencies.
    """
    _require_points(measured.f_hz.size, measured.source.name)
    (own_ohm,) = measured.reference_ohm
    pair_ohm = own_ohm if own_ohm >= DIFFERENTIAL_OHM else 2.0 * own_ohm
    s = renormalized(measured.s, (pair_ohm,), (stretch.reference_ohm,))
    return response_of("reflection", measured.f_hz, s[0, 0], belongs, stretch, measured.source)


def responses_of(
    network: Network,
    belongs: Belongs,
    stretch: MeasuredStretch,
    *,
    left: Network | None = None,
    right: Network | None = None,
) -> Responses:
    """The first way through a network, less its fixtures, as two measurements.

    Args:
        network: what was measured.
        belongs: its name, lane and probe point; the parameter is added to the name.
        stretch: what lies between the probes, and the reference that it is turned to.
        left: the fixture that the signal enters by, measured by itself; None: there is none.
        right: the fixture that it leaves by; None: there is none.

    Raises:
        TableError: it has too few frequencies.
        NetworkError: it reaches beyond a fixture's band.
    """
    f_hz, _ = network.matrices()
    _require_points(f_hz.size, network.source)
    left_one, right_one = (None if one is None else _with_ports(one) for one in (left, right))
    bare = removed(_with_ports(network), left=left_one, right=right_one)
    ends = (bare.network.left_ohm, bare.network.right_ohm)
    s = renormalized(bare.network.s, ends, (stretch.reference_ohm, stretch.reference_ohm))

    notes = "; ".join(filter(None, (belongs.notes, *bare.warnings)))
    source = TextSource(network.source, network.source_sha256)

    def one(parameter: str, values: Complexes) -> MeasuredResponse:
        named = belongs._replace(name=f"{belongs.name} {parameter}", notes=notes)
        return response_of(parameter, f_hz, values, named, stretch, source)

    return Responses(one("transmission", s[1, 0]), one("reflection", s[0, 0]), bare.warnings)


def _require_points(count: int, source: str) -> None:
    if count < FEWEST_POINTS:
        problem = f"it has {count} {'frequency' if count == 1 else 'frequencies'}"
        raise TableError(source, None, problem, f"a response needs {FEWEST_POINTS} at least")


def _with_ports(network: Network) -> WithPorts:
    f_hz, s = network.matrices()
    two_port, left_ohm, right_ohm = differential(network, s, network.pairs[0])
    return WithPorts(f_hz, two_port, left_ohm, right_ohm)
