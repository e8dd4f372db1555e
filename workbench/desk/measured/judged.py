"""A Touchstone file judged before it goes into the catalogue: its ports, its quality, what a repair would change."""

from typing import NamedTuple

from workbench.desk.measured.reading import Given, network_file, port_choices
from workbench.errors import NotStatedError, TableError
from workbench.measured.touchstone.ports import PortMap, network_of, stated_ports, way_words
from workbench.measured.touchstone.quality import QualityCard, quality_of
from workbench.measured.touchstone.reading import Measured
from workbench.measured.touchstone.repair import repaired
from workbench.parts.network import Network

REPAIR_WORDS = {
    "reciprocity": ("Both directions alike", "S_ij and S_ji become their mean"),
    "passivity": ("Enforce passivity", "Singular values above 1 become 1"),
    "rest": ("Reaches 0 Hz", "Points down to 0 Hz, continued as passive lines and lumped parts do"),
    "band": ("Extrapolate upward", "Points up to twice the band, by a fall-off whose reactance belongs to its loss"),
}
"""What each kind of repair is called, and what it does."""


_LEGS = "state them, such as 1,2:3,4: left positive and negative, right positive and negative"


class Asked(NamedTuple):
    """How a file is to be read and what is to be done to it.

    Attributes:
        taken: the file.
        name: what the catalogue will call it.
        ports: its port map in words, "" to guess it.
        ports_are: "single-ended" or "differential"; "" by the references.
        repairs: the kinds of repair to do.
        rate_bps: what its band is judged for, symbols per second; None for nothing.
        port_count: how many ports it has, where the file does not show it.
        trusted: whether its option line is right, however it looks.
    """

    taken: Given
    name: str
    ports: str = ""
    ports_are: str = ""
    repairs: tuple[str, ...] = ()
    rate_bps: float | None = None
    port_count: int | None = None
    trusted: bool = False


class JudgedNetwork(NamedTuple):
    """What a file reads as.

    Attributes:
        measured: as it was read.
        choices: port maps to choose from, the likeliest first; empty where only the user knows.
        ports: the map that holds; None while it has to be stated.
        network: the catalogue entry, repaired where that was asked for; None without a map.
        before: quality as measured.
        after: quality after the repairs; None without any.
        question: what has to be stated, in a sentence; "" where nothing has.
    """

    measured: Measured
    choices: tuple[PortMap, ...]
    ports: PortMap | None
    network: Network | None
    before: QualityCard
    after: QualityCard | None
    question: str = ""


def judged(asked: Asked, known: Measured | None = None) -> JudgedNetwork:
    """Read a file and judge it.

    Args:
        asked: the file, and how.
        known: what it was read as before, where only other things were asked for since.

    Raises:
        TableError: it can't be read, or the stated ports are none; `NotStatedError` where the file needs something.
    """
    measured = known or network_file(asked.taken, count=asked.port_count, trusted=asked.trusted)
    choices, question = port_choices(measured), ""
    ports: PortMap | None = None
    try:
        ports = _ports(measured, asked, choices)
    except NotStatedError as error:
        question = f"{error.problem}; {error.remedy}"
    if ports is None:
        card = quality_of(measured.f_hz, measured.s, measured.reference_ohm, (), asked.rate_bps)
        return JudgedNetwork(measured, choices, None, None, card, None, question)
    network = network_of(measured, asked.name, ports)
    before = quality_of(measured.f_hz, measured.s, measured.reference_ohm, ports.pairs, asked.rate_bps)
    if not asked.repairs:
        return JudgedNetwork(measured, choices, ports, network, before, None)
    network = repaired(network, asked.repairs)
    after = quality_of(*network.matrices(), network.reference_ohm, network.pairs, asked.rate_bps)
    return JudgedNetwork(measured, choices, ports, network, before, after)


def map_words(ports: PortMap) -> str:
    """A port map as it is stated: "1,2:3,4; 5,6:7,8"."""
    return "; ".join(map(way_words, ports.pairs))


def _ports(measured: Measured, asked: Asked, choices: tuple[PortMap, ...]) -> PortMap:
    if asked.ports:
        same = next((one for one in choices if map_words(one) == asked.ports and _kind_fits(one, asked)), None)
        return same or stated_ports(asked.ports, measured, asked.ports_are or None)
    if measured.ports < 2:
        raise TableError(
            measured.source.name, None, "it has one port, and a path needs a through path",
            "overlay it on a lane as a measurement instead",
        )  # fmt: skip
    fitting = next((one for one in choices if _kind_fits(one, asked)), None)
    if fitting is None:
        whole = asked.ports_are == "differential"
        question = "the data don't show which ports belong together" + (" as whole pairs" if whole else "")
        remedy = "state them, such as 1:2; 3:4: left and right end" if whole else _LEGS
        raise NotStatedError(measured.source.name, None, question, remedy, wanted="ports")
    return fitting


def _kind_fits(ports: PortMap, asked: Asked) -> bool:
    return not asked.ports_are or ports.ports_are == asked.ports_are
