"""`link-margin import`, `quality` and `export`: measured networks into a board, judged, and lanes out as networks."""

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from workbench.cli.arguments import CommandOffer, Commands, Parser, add_explain, named_command, print_explained
from workbench.cli.boards import lanes_of, load_board, save_board
from workbench.cli.data.ends import import_end
from workbench.cli.data.models import add_model_options, import_model, places_named
from workbench.cli.data.network_sets import import_set
from workbench.cli.statuses import PASSED
from workbench.errors import NetworkError
from workbench.quantity import parse, show
from workbench.wording import quoted

if TYPE_CHECKING:
    from workbench.board.model import Board, Lane
    from workbench.measured.touchstone.export import Exported
    from workbench.measured.touchstone.ports import PortMap
    from workbench.measured.touchstone.quality import QualityCard
    from workbench.measured.touchstone.reading import Measured
    from workbench.measured.touchstone.told import ImportedNetwork
    from workbench.parts.network import Network

REPAIRS = ("reciprocity", "passivity", "rest", "band")
LOW_HZ, HIGH_HZ, STEP_HZ = 10e6, 20e9, 10e6
_ENDINGS = {".s2p": 2, ".s4p": 4}

_IMPORT = """\
examples:
  link-margin import shelf.board.json jumper.s4p
  link-margin import shelf.board.json jumper.s4p --name "front jumper" --ports "1,3:2,4"
  link-margin import shelf.board.json backplane.s16p --repair passivity -o new.board.json
  link-margin import shelf.board.json backplane.s16p --lanes RX0 TX0 --against TX0 --in-place-of "card edge"
  link-margin import shelf.board.json redriver/ --settings "link_EQ{EQ}_DC{DC}.s4p" --name "redriver"
  link-margin import shelf.board.json driver.ami --transmitter host --set taps/1=-0.2
  link-margin import shelf.board.json package.s4p --transmitter host
  link-margin import shelf.board.json pad.s1p --receiver card
  link-margin import shelf.board.json edge.csv --transmitter host

The ports' meaning is guessed from what passes at low frequency, and printed; --ports states it: left positive,
left negative : right positive, right negative. Each through path is a way for one lane: --lanes puts the network into
lanes, the first of them on the first way, in place of a part or line that each of them has.

exit status: 0 done, 2 the input could not be read or the board not written
"""
_QUALITY = """\
examples:
  link-margin quality jumper.s4p
  link-margin quality jumper.s4p --rate 8Gbps --json

exit status: 0 done, 2 the input could not be read
"""
_EXPORT = """\
examples:
  link-margin export shelf.board.json --lane D0 -o d0.s2p
  link-margin export shelf.board.json --lane D0 --span 1 -o d0-first.s4p
  link-margin export shelf.board.json --lane D0 --element 3 -o connector.s2p --to 40GHz --step 20MHz

.s2p is the differential mode in 100 ohm, .s4p the four legs in 50 ohm.

exit status: 0 done, 2 the input could not be read or the file not written
"""


def import_network(asked: argparse.Namespace) -> int:
    """Add a measured network, or several as a conditioner, to a board, or put a file on one of its parts.

    Raises:
        WorkbenchError: board or network can't be read, the ports have to be stated, or the board can't be written.
    """
    from workbench.board.edits.catalogue import add_entry  # noqa: PLC0415 - help starts without it
    from workbench.measured.touchstone.ports import network_of  # noqa: PLC0415 - as above
    from workbench.measured.touchstone.repair import repaired  # noqa: PLC0415 - as above
    from workbench.measured.touchstone.told import NetworkImport  # noqa: PLC0415 - as above

    paths = [Path(one) for one in asked.networks]
    if len(paths) > 1 or asked.settings or paths[0].is_dir():
        return import_set(asked, paths, lambda measured: _ports_of(measured, asked))
    asked.network = asked.networks[0]
    if paths[0].suffix.casefold() in (".ami", ".ibs"):
        return import_model(asked)
    if places_named(asked):
        return import_end(asked, lambda: _read(asked), lambda measured: _ports_of(measured, asked))
    loaded = load_board(asked.file)
    measured = _read(asked)
    ports = _ports_of(measured, asked)
    network = network_of(measured, asked.name or Path(asked.network).stem, ports)
    if asked.repair:
        network = repaired(network, asked.repair)
    board = add_entry(loaded.board, "networks", network)
    if asked.lanes or asked.in_place_of or asked.against:
        board = _laid_through(board, network.name, asked)
    target = Path(asked.output or asked.file)
    save_board(board, target)
    answer = NetworkImport(board=str(target), network=_imported(network, ports, measured))
    if asked.explain:
        print_explained(asked, f"Import of {network.name}", answer, board)
        return PASSED
    if asked.json:
        _print_record(answer)
        return PASSED
    sys.stdout.write(f"wrote {quoted(str(target))} with network {quoted(network.name)}: {network.ports} ports, "
                     f"{network.points} points\n")  # fmt: skip
    if asked.lanes:
        taken = (f"{lane} by way {way}" for way, lane in enumerate(asked.lanes, start=1))
        sys.stdout.write(f"  in place of {quoted(asked.in_place_of)} it is passed by {', '.join(taken)}\n")
    _print_lines((*ports.reasons, *measured.notes, *(repair.did for repair in network.repairs)))
    return PASSED


def _laid_through(board: "Board", network: str, asked: argparse.Namespace) -> "Board":
    from workbench.board.edits.ways import lay_through  # noqa: PLC0415 - help starts without it

    if not asked.lanes or not asked.in_place_of:
        raise NetworkError("lanes and what the network takes the place of go together; give --lanes and --in-place-of")
    if (strange := [lane for lane in asked.against if lane not in asked.lanes]):
        raise NetworkError(f"{quoted(strange[0])} runs against lanes that it is not among; name it with --lanes too")
    return lay_through(board, network, asked.lanes, in_place_of=asked.in_place_of, against=asked.against)


def quality(asked: argparse.Namespace) -> int:
    """Print the quality card of a network.

    Raises:
        WorkbenchError: it can't be read.
        NetworkError: the rate is not above 0.
    """
    from workbench.errors import NotStatedError, TableError  # noqa: PLC0415 - used here alone
    from workbench.measured.touchstone.quality import quality_of  # noqa: PLC0415 - help starts without it
    from workbench.measured.touchstone.told import NetworkQuality  # noqa: PLC0415 - help starts without it

    measured = _read(asked)
    notes = list(measured.notes)
    pairs: tuple[object, ...] = ()
    try:
        ports = _ports_of(measured, asked)
        pairs, notes = ports.pairs, [*ports.reasons, *notes]
    except (NotStatedError, TableError) as error:
        if asked.ports:
            raise
        notes.append(f"what depends on the ports is left out: {error}")
    rate_bps = parse(asked.rate, unit="bit/s") if asked.rate else None
    if rate_bps is not None and rate_bps <= 0.0:
        raise NetworkError(f"a rate of {asked.rate} sends nothing; give one such as 8Gbps")
    card = quality_of(measured.f_hz, measured.s, measured.reference_ohm, pairs, rate_bps)  # type: ignore[arg-type]
    found = NetworkQuality(
        source=measured.source.name, source_sha256=measured.source.sha256,
        reference_ohm=tuple(measured.reference_ohm), notes=tuple(notes), quality=card,
    )  # fmt: skip
    if asked.explain:
        print_explained(asked, f"Quality of {found.source}", found)
        return PASSED
    if asked.json:
        _print_record(found)
        return PASSED
    _print_card(measured, card)
    _print_lines(notes)
    return PASSED


def export(asked: argparse.Namespace) -> int:
    """Write an element, a span or a whole lane as a network.

    Raises:
        WorkbenchError: the board can't be read, or the file can't be written.
        NetworkError: there is no such thing on the board, or the name does not end in .s2p or .s4p.
    """
    from workbench.measured.touchstone.export import single_ended, touchstone_text  # noqa: PLC0415 - as above
    from workbench.measured.touchstone.told import ExportSummary  # noqa: PLC0415 - help starts without it
    from workbench.reports.storing import write_report  # noqa: PLC0415 - as above

    target = Path(asked.output)
    ports = _ENDINGS.get(target.suffix.lower())
    if ports is None:
        raise NetworkError(f"{quoted(asked.output)} : the name must end in .s2p or .s4p")
    if asked.common and ports == 2:
        raise NetworkError("two ports have no common mode; omit --common, or write .s4p")
    board = load_board(asked.file).board
    exported = _exported(board, asked)
    if ports == 4:
        common = {"common_ohm": parse(asked.common, unit="ohm")} if asked.common else {}
        exported = single_ended(exported, **common)
    write_report(touchstone_text(exported).encode(), target)
    summary = ExportSummary(
        file=asked.output, ports=ports, points=exported.f_hz.size, low_hz=float(exported.f_hz[0]),
        high_hz=float(exported.f_hz[-1]), comments=tuple(exported.comments),
    )  # fmt: skip
    if asked.explain:
        print_explained(asked, f"Export into {asked.output}", summary, board)
        return PASSED
    if asked.json:
        _print_record(summary)
        return PASSED
    band = f"{show(float(exported.f_hz[0]), 'Hz')} to {show(float(exported.f_hz[-1]), 'Hz')}"
    sys.stdout.write(f"wrote {quoted(asked.output)}: {ports} ports, {exported.f_hz.size} points from {band}\n")
    _print_lines(exported.comments)
    return PASSED


def _exported(board: "Board", asked: argparse.Namespace) -> "Exported":
    from workbench.engine.lane.path import plan_of  # noqa: PLC0415 - help starts without the engine
    from workbench.measured.touchstone.export import element_of_path, frequencies, lane_of, span_of  # noqa: PLC0415 - as above

    lane: Lane = next(lane for lane in board.lanes if lane.name == lanes_of(board, [asked.lane])[0])
    plan = plan_of(board, lane)
    low, high, step = (
        parse(text, unit="Hz") if text else default
        for text, default in ((asked.low, LOW_HZ), (asked.high, HIGH_HZ), (asked.step, STEP_HZ))
    )
    f_hz = frequencies(low, high, step)
    if asked.element is not None:
        return element_of_path(plan, asked.element, f_hz)
    return span_of(plan, asked.span, f_hz) if asked.span is not None else lane_of(plan, f_hz)


def _read(asked: argparse.Namespace) -> "Measured":
    from workbench.measured.touchstone.reading import read_touchstone  # noqa: PLC0415 - help starts without it

    return read_touchstone(asked.network, ports=asked.count, trusted=asked.trusted)


def _ports_of(measured: "Measured", asked: argparse.Namespace) -> "PortMap":
    from workbench.measured.touchstone.ports import guessed_ports, stated_ports  # noqa: PLC0415 - as above

    if asked.ports:
        return stated_ports(asked.ports, measured, asked.ports_are)
    guess = guessed_ports(measured)
    if asked.ports_are is None or asked.ports_are == guess.ports_are:
        return guess
    if measured.ports > 2:
        raise NetworkError(f"state which {asked.ports_are} ports belong together with --ports")
    return msgspec.structs.replace(guess, ports_are=asked.ports_are, reasons=(f"its ports are {asked.ports_are}",))


def _imported(network: "Network", ports: "PortMap", measured: "Measured") -> "ImportedNetwork":
    from workbench.measured.touchstone.quality import quality_of  # noqa: PLC0415 - as above
    from workbench.measured.touchstone.told import ImportedNetwork  # noqa: PLC0415 - help starts without it

    f_hz, s = network.matrices()
    return ImportedNetwork(
        name=network.name, source=measured.source.name, source_sha256=measured.source.sha256,
        reference_ohm=tuple(measured.reference_ohm), ports_are=network.ports_are, pairs=network.pairs, sure=ports.sure,
        reasons=tuple(ports.reasons), notes=tuple(measured.notes), repairs=network.repairs,
        quality=quality_of(f_hz, s, network.reference_ohm, network.pairs),
    )  # fmt: skip


def _print_card(measured: "Measured", card: "QualityCard") -> None:
    references = " ".join(f"{value:g}" for value in dict.fromkeys(measured.reference_ohm))
    sys.stdout.write(f"{measured.source.name}: {card.ports} ports in {references} ohm\n")
    about = max(len(aspect.about) for aspect in card.aspects)
    word = max(len(aspect.word) for aspect in card.aspects)
    for aspect in card.aspects:
        sys.stdout.write(f"  {aspect.about:<{about}}  {aspect.word:<{word}}  {aspect.text}\n")


def _print_lines(sentences: tuple[str, ...] | list[str]) -> None:
    for sentence in sentences:
        sys.stdout.write(f"  {sentence}\n")


def _print_record(answer: object) -> None:
    sys.stdout.write(json.dumps(msgspec.to_builtins(answer), indent=2, ensure_ascii=False) + "\n")


def _add_reading(offered: Parser) -> None:
    """Arguments of every command that reads a network."""
    offered.add_argument("--ports", metavar="MAP", help='which ports belong together, such as "1,2:3,4" (guessed)')
    kind = offered.add_mutually_exclusive_group()
    kind.add_argument(
        "--single-ended", dest="ports_are", action="store_const", const="single-ended",
        help="a port is one leg of a pair",
    )  # fmt: skip
    kind.add_argument(
        "--differential", dest="ports_are", action="store_const", const="differential", help="a port is a whole pair"
    )
    offered.add_argument(
        "--count", metavar="N", type=int, help="how many ports the file has, where neither name nor content says it"
    )
    offered.add_argument("--trusted", action="store_true", help="trust the option line's format, though it looks wrong")
    offered.add_argument("--json", action="store_true", help="print JSON")


def _add_import(commands: "Commands[Parser]") -> None:
    offered = named_command(commands, "import", _IMPORT)
    offered.add_argument("file", metavar="FILE", help="board file")
    words = (
        "Touchstone file: .s2p, .s4p, ... or .ts; several or a folder, one a setting of a conditioner; a "
        "maker's model: .ami or .ibs; a step: .csv"
    )
    offered.add_argument("networks", metavar="DATA", nargs="+", help=words)
    offered.add_argument("--name", metavar="NAME", help="name in the catalogue (the file's name)")
    offered.add_argument(
        "--settings", metavar="PATTERN",
        help="of files, one a setting: where settings stand in their names, link_EQ{EQ}_DC{DC}.s4p (guessed)",
    )  # fmt: skip
    offered.add_argument("--channels", metavar="N", type=int, default=1, help="of a conditioner: lanes a device serves")
    add_model_options(offered)
    offered.add_argument(
        "--repair", metavar="KIND", nargs="+", action="extend", choices=REPAIRS, default=[],
        help=f"what to repair, the original kept: {', '.join(REPAIRS)}",
    )  # fmt: skip
    offered.add_argument("--lanes", metavar="LANE", nargs="+", default=[], help="lanes that take its ways, in order")
    offered.add_argument("--in-place-of", metavar="PART", help="part or line of these lanes that it takes the place of")
    offered.add_argument(
        "--against", metavar="LANE", nargs="+", default=[], help="those of them that run from its right to its left"
    )
    offered.add_argument("-o", "--output", metavar="OUT", help="board file to write (the one that was read)")
    add_explain(offered)
    _add_reading(offered)


def _add_quality(commands: "Commands[Parser]") -> None:
    offered = named_command(commands, "quality", _QUALITY)
    offered.add_argument("network", metavar="NETWORK", help="Touchstone file: .s1p, .s2p, .s4p, ... or .ts")
    add_explain(offered)
    offered.add_argument("--rate", metavar="RATE", help="assess the band for this rate, such as 8Gbps")
    _add_reading(offered)


def _add_export(commands: "Commands[Parser]") -> None:
    offered = named_command(commands, "export", _EXPORT)
    offered.add_argument("file", metavar="FILE", help="board file")
    offered.add_argument("--lane", metavar="NAME", required=True, help="the lane")
    part = offered.add_mutually_exclusive_group()
    part.add_argument("--element", metavar="N", type=int, help="only this element of its path, from 1")
    part.add_argument("--span", metavar="N", type=int, help="only this span between conditioners, from 1")
    offered.add_argument("-o", "--output", metavar="OUT", required=True, help="file to write, .s2p or .s4p")
    offered.add_argument("--from", dest="low", metavar="F", help="first frequency (10 MHz)")
    offered.add_argument("--to", dest="high", metavar="F", help="last frequency (20 GHz)")
    offered.add_argument("--step", metavar="F", help="spacing (10 MHz)")
    offered.add_argument(
        "--common", metavar="Z", help="for .s4p: common-mode impedance where the differential one is 100 ohm (25 ohm)"
    )
    add_explain(offered)
    offered.add_argument("--json", action="store_true", help="print JSON")


OFFERS = (
    CommandOffer("import", _add_import, import_network),
    CommandOffer("quality", _add_quality, quality),
    CommandOffer("export", _add_export, export),
)
