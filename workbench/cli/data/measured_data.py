"""From the words of a command to measurements: a table, a Touchstone file, or an eye's figures."""

import argparse
import re
from collections.abc import Sequence
from pathlib import Path

from workbench.board.measurement import Measurement
from workbench.board.model import Board
from workbench.cli.data.measured import text_asked_for
from workbench.errors import QuantityError, WorkbenchError
from workbench.measured.network_responses import reflection_of, responses_of
from workbench.measured.tables.frequency_tables import MeasuredStretch, read_response
from workbench.measured.tables.reading import read_table
from workbench.measured.tables.trace_columns import StatedByUser
from workbench.measured.tables.traces import Belongs, measured_eye, read_step, read_waveform
from workbench.measured.touchstone.ports import guessed_ports, network_of, stated_ports
from workbench.measured.touchstone.reading import read_touchstone
from workbench.parts.network import Network
from workbench.quantity import parse
from workbench.wording import instead, quoted

_TOUCHSTONE = re.compile(r"\.(?:s\d{1,2}p|ts)$", re.IGNORECASE)


def measurements_of(asked: argparse.Namespace, board: Board) -> Sequence[Measurement]:
    """The measurements that a command names by file or by figures.

    Raises:
        WorkbenchError: they can't be read; `NotStatedError` where something has to be stated.
    """
    if asked.lane is None:
        raise WorkbenchError("the measured lane is not stated; add --lane NAME")
    name = asked.name or (Path(asked.data).name if asked.data else "eye")
    belongs = Belongs(name, asked.lane, asked.probe)
    if asked.what == "eye":
        return (_eye(asked, belongs),)
    if _TOUCHSTONE.search(asked.data):
        return _touchstone(asked, board, belongs)
    if asked.what is None:
        raise WorkbenchError("what was measured is not stated; add --what waveform, step, transmission or reflection")
    table = read_table(text_asked_for(asked), all_numeric=True, decimal=asked.decimal)
    if asked.what == "waveform":
        return (read_waveform(table, belongs, _stated(asked)),)
    if asked.what == "step":
        return (read_step(table, belongs, _stated(asked)),)
    return (read_response(table, belongs, _stretch(asked), _stated(asked)),)


def _stated(asked: argparse.Namespace) -> StatedByUser:
    return StatedByUser(
        x=asked.x,
        y=asked.y,
        minus=asked.minus,
        x_unit=asked.x_unit,
        y_unit=asked.y_unit,
        sample_rate_hz=_positive("--sample-rate", asked.sample_rate, "Hz"),
        parameter=asked.what if asked.what in ("transmission", "reflection") else None,
        quantity=asked.quantity,
        round_trip=asked.round_trip,
        loss_positive=asked.loss_positive,
    )


def _stretch(asked: argparse.Namespace) -> MeasuredStretch:
    reference = _positive("--reference", asked.reference, "ohm") or 100.0
    if asked.elements is None:
        return MeasuredStretch(reference_ohm=reference)
    found = re.fullmatch(r"\s*(\d{1,3})\s*(?:-\s*(\d{1,3})\s*)?", asked.elements)
    if found is None:
        raise WorkbenchError(f"--elements {quoted(asked.elements)} are not elements; write them such as 1-3, or 2")
    return MeasuredStretch(int(found[1]), int(found[2] or found[1]), reference)


def _touchstone(asked: argparse.Namespace, board: Board, belongs: Belongs) -> Sequence[Measurement]:
    measured = read_touchstone(asked.data)
    if measured.ports == 1:
        return (reflection_of(measured, belongs, _stretch(asked)),)
    ports = guessed_ports(measured) if asked.ports is None else stated_ports(asked.ports, measured)
    network = network_of(measured, belongs.name, ports)
    both = responses_of(
        network, belongs, _stretch(asked), left=_network(board, asked.left), right=_network(board, asked.right)
    )
    wanted = (both.transmission, both.reflection)
    return [one for one in wanted if asked.what in (None, one.parameter)]


def _network(board: Board, name: str | None) -> Network | None:
    if name is None:
        return None
    networks = {entry.name: entry for entry in board.catalogue.networks if isinstance(entry, Network)}
    if name not in networks:
        remedy = instead(name, tuple(networks), "import it first")
        raise WorkbenchError(f"the board has no network {quoted(name)}; {remedy}")
    return networks[name]


def _eye(asked: argparse.Namespace, belongs: Belongs) -> Measurement:
    return measured_eye(
        belongs,
        height_v=_number("--height", asked.height, "V"),
        width_ui=_number("--width", asked.width, "UI"),
        ber=_number("--ber", asked.ber, ""),
    )


def _positive(option: str, words: str | None, unit: str) -> float | None:
    value = _number(option, words, unit)
    if value is not None and not value > 0.0:
        raise WorkbenchError(f"{option} is {value:g}; write a number above 0")
    return value


def _number(option: str, words: str | None, unit: str) -> float | None:
    if words is None:
        return None
    try:
        return parse(words, unit=unit)
    except QuantityError as error:
        raise WorkbenchError(f"{option}: {error}") from error
