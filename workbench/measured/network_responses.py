"""A measured network (Touchstone) as the transmission and reflection that are laid beside a lane or fitted to."""

from typing import NamedTuple

from workbench.board.measurement import MeasuredResponse
from workbench.board.messages import quoted
from workbench.errors import TableError
from workbench.measured.frequency_tables import FEWEST_POINTS, Stretch
from workbench.measured.repair_fixture import WithPorts, removed
from workbench.measured.traces import Belongs
from workbench.parts.network import Network, differential
from workbench.parts.network_waves import renormalized
from workbench.parts.packed import packed
from workbench.parts.twoport import Complexes


class Responses(NamedTuple):
    """Transmission and reflection of one network, and sentences on what removing its fixtures left doubtful."""

    transmission: MeasuredResponse
    reflection: MeasuredResponse
    warnings: tuple[str, ...]


def responses_of(
    network: Network,
    belongs: Belongs,
    stretch: Stretch,
    *,
    left: Network | None = None,
    right: Network | None = None,
) -> Responses:
    """The first way through a network, less its fixtures, as two measurements.

    Args:
        network: what was measured.
        belongs: its name, lane and look point; the parameter is added to the name.
        stretch: what lies between the probes, and the reference that it is turned to.
        left: the fixture that the signal enters by, measured by itself; None: there is none.
        right: the fixture that it leaves by; None: there is none.

    Raises:
        TableError: it has too few frequencies.
        NetworkError: it reaches beyond a fixture's band.
    """
    f_hz, _ = network.matrices()
    if f_hz.size < FEWEST_POINTS:
        problem = f"it has {f_hz.size} frequencies"
        raise TableError(quoted(network.source), None, problem, f"a response needs {FEWEST_POINTS} at least")
    left_one, right_one = (None if one is None else _with_ports(one) for one in (left, right))
    bare = removed(_with_ports(network), left=left_one, right=right_one)
    ends = (bare.network.left_ohm, bare.network.right_ohm)
    s = renormalized(bare.network.s, ends, (stretch.reference_ohm, stretch.reference_ohm))

    def one(parameter: str, values: Complexes) -> MeasuredResponse:
        return MeasuredResponse(
            name=f"{belongs.name} {parameter}",
            lane=belongs.lane,
            look=belongs.look,
            notes="; ".join(filter(None, (belongs.notes, *bare.warnings))),
            source=network.source,
            sha256=network.source_sha256,
            parameter=parameter,  # type: ignore[arg-type]  # one of the two words
            first=stretch.first,
            last=stretch.last,
            reference_ohm=stretch.reference_ohm,
            points=f_hz.size,
            f_hz=packed(f_hz),
            real=packed(values.real),
            imaginary=packed(values.imag),
        )

    return Responses(one("transmission", s[1, 0]), one("reflection", s[0, 0]), bare.warnings)


def _with_ports(network: Network) -> WithPorts:
    f_hz, s = network.matrices()
    two_port, left_ohm, right_ohm = differential(network, s, network.pairs[0])
    return WithPorts(f_hz, two_port, left_ohm, right_ohm)
