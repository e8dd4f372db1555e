"""`link-margin lanes`, `link-margin overlay`, `link-margin fit`: lane lists, measurements and values fitted to them."""

import argparse
import re
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from workbench.cli.arguments import (
    CommandOffer,
    Commands,
    Parser,
    add_explain,
    add_lengths,
    named_command,
    print_explained,
)
from workbench.cli.boards import load_board, save_board
from workbench.cli.statuses import PASSED
from workbench.errors import NotStatedError, WorkbenchError
from workbench.quantity import parse
from workbench.wording import instead, quoted

if TYPE_CHECKING:
    from workbench.board.measurement import Measurement
    from workbench.board.model import Board
    from workbench.measured.fit.fields import Free
    from workbench.measured.overlay.figures import Overlay
    from workbench.measured.tables.decoding import Text

ResultT = TypeVar("ResultT")

_KINDS = ("waveform", "step", "transmission", "reflection", "eye")
_EXIT = "exit status: 0 done, 2 the input could not be read or the file not written"

_LANES = f"""\
examples:
  link-margin lanes shelf.board.json routing.csv --template D0
  link-margin lanes shelf.board.json routing.csv --template D0 --run "1=Card" "3=Cable" --write
  link-margin lanes shelf.board.json routing.csv --template D0 --unit mil --add -o new.board.json
  link-margin lanes shelf.board.json - --template D0          cells pasted into standard input

The path of the lane named by --template is the pattern: its first element is element 1. A column is
matched by --run, or by its title: the line's name, "run 2" (the second run) or "element 3". Without
--write or -o nothing is written: the report says what would change.

{_EXIT}
"""
_BESIDE = f"""\
examples:
  link-margin overlay shelf.board.json loss.csv --what transmission --lane D0 --elements 1-3
  link-margin overlay shelf.board.json cable.s2p --lane D0 --elements 2
  link-margin overlay shelf.board.json scope.csv --what waveform --lane D0 --probe pins --x-unit ns
  link-margin overlay shelf.board.json --what eye --lane D0 --height "210 mV" --width 0.62 --write
  link-margin overlay shelf.board.json                     all that the board keeps

--write (or -o) keeps the measurement in the board file.

{_EXIT}
"""
_FIT = f"""\
examples:
  link-margin fit shelf.board.json cable.s2p --lane D0 --elements 2 --free cables/twinax/permittivity
  link-margin fit shelf.board.json loss.csv --what transmission --lane D0 --elements 1-3 \\
    --free "lines/card trace/conductor_loss_db_per_m=2..20" --write
  link-margin fit shelf.board.json --measured "bench loss" --free vias/through/stub_m
  link-margin fit shelf.board.json --values               every value that can be fitted

--before and --after name catalogue entries that lie between the probes and the lane: they are part
of the model. Without --write or -o nothing is written.

{_EXIT}
"""


def lanes(asked: argparse.Namespace) -> int:
    """Take a lane list into a board.

    Raises:
        WorkbenchError: the board or the list can't be read, or the file not written.
    """
    from workbench.measured.tables.lane_columns import LanePattern  # noqa: PLC0415 - help starts without the engine
    from workbench.measured.tables.lane_lists import ImportedLanes, take_lane_list  # noqa: PLC0415 - as above
    from workbench.measured.tables.reading import read_table  # noqa: PLC0415 - as above
    from workbench.reports.measured import as_json, lane_list_text  # noqa: PLC0415 - as above

    board = load_board(asked.file).board
    pattern = LanePattern(
        lane=asked.template,
        names=asked.names,
        runs=tuple(map(_run_of, asked.run)),
        unit=asked.unit,
        add=asked.add,
        pair_ends=tuple(asked.pair_ends) if asked.pair_ends else None,
    )

    def take() -> ImportedLanes:
        return take_lane_list(board, read_table(text_asked_for(asked), decimal=asked.decimal), pattern)

    changed, report = _asking(take, _LANE_OPTIONS)
    if asked.explain:
        print_explained(asked, f"Lane list {report.source}", report, board)
    else:
        sys.stdout.write(as_json(report) if asked.json else lane_list_text(report))
    return _written(asked, changed, board)


def beside(asked: argparse.Namespace) -> int:
    """Lay measurements beside their lanes.

    Raises:
        WorkbenchError: the board or the data can't be read, or they have nothing in common.
    """
    from workbench.board.edits.measured import put_measurement  # noqa: PLC0415 - help starts without the engine
    from workbench.engine.memo import Memo  # noqa: PLC0415 - as above
    from workbench.measured.overlay.response import beside_board  # noqa: PLC0415 - as above
    from workbench.reports.measured import as_json, overlay_data, overlay_text  # noqa: PLC0415 - as above

    loaded = board = load_board(asked.file).board
    chosen, new = _measurements(asked, loaded)
    if not chosen:
        raise WorkbenchError(f"{quoted(asked.file)} keeps no such measurement; name a file that holds one")
    for measurement in chosen if new else ():
        board = put_measurement(board, measurement)
    memo = Memo()
    overlays = [beside_board(memo, board, one) for one in chosen]
    if asked.explain:
        _explain(asked, overlays, board)
    elif asked.json:
        sys.stdout.write(as_json([overlay_data(overlay) for overlay in overlays]))
    else:
        sys.stdout.write("".join(map(overlay_text, overlays)))
    return _written(asked, board, loaded)


def _explain(asked: argparse.Namespace, overlays: "Sequence[Overlay]", board: "Board") -> None:
    """The figure in each overlay, or in the one that its path begins with, as in the JSON: "[1].figures[0].apart"."""
    chosen = re.match(r"\[(\d{1,6})\]\.", asked.explain)
    if chosen is not None:
        number = int(chosen[1])
        if number >= len(overlays):
            raise WorkbenchError(f"there is no overlay [{number}]; the last is [{len(overlays) - 1}]")
        overlays, asked.explain = overlays[number : number + 1], asked.explain[chosen.end() :]
    for overlay in overlays:
        print_explained(asked, f"{overlay.name} beside its lane", overlay, board)


def fit(asked: argparse.Namespace) -> int:
    """Fit catalogue values to measured responses.

    Raises:
        WorkbenchError: the board or the data can't be read, a value can't be fitted, or the file not written.
    """
    from workbench.measured.fit.fields import fittable  # noqa: PLC0415 - as above
    from workbench.measured.fit.fitting import fit as fitted  # noqa: PLC0415 - help starts without the engine
    from workbench.measured.fit.problem import Fixtures  # noqa: PLC0415 - as above
    from workbench.reports.measured import as_json, fit_text  # noqa: PLC0415 - as above

    board = load_board(asked.file).board
    if asked.values:
        sys.stdout.write("".join(f"{path}\n" for path in fittable(board)))
        return PASSED
    from workbench.board.measurement import MeasuredResponse  # noqa: PLC0415 - as above

    responses = [one for one in _measurements(asked, board)[0] if isinstance(one, MeasuredResponse)]
    if not responses:
        raise WorkbenchError("there is no measured response to fit to; name a file, or one that the board keeps")
    fixtures = Fixtures(tuple(asked.before), tuple(asked.after))
    result = fitted(board, responses, [_free_of(board, words) for words in asked.free], fixtures)
    if asked.explain:
        print_explained(asked, "Fit", result.report, board)
    else:
        sys.stdout.write(as_json(result.report) if asked.json else fit_text(result.report))
    return _written(asked, result.board, board)


def _measurements(asked: argparse.Namespace, board: "Board") -> "tuple[Sequence[Measurement], bool]":
    """What the words name, and whether it is new: a file's data or an eye's figures, else what the board keeps."""
    if asked.data is not None or asked.what == "eye":
        from workbench.cli.data.measured_data import measurements_of  # noqa: PLC0415 - help starts without the engine

        return _asking(lambda: measurements_of(asked, board), _DATA_OPTIONS), True
    names = [one.name for one in board.measurements]
    for name in asked.measured:
        if name not in names:
            remedy = instead(name, names, "name a file instead")
            raise WorkbenchError(f"there is no measurement {quoted(name)}; {remedy}")
    wanted = asked.measured or names
    return [one for one in board.measurements if one.name in wanted and asked.lane in (None, one.lane)], False


def text_asked_for(asked: argparse.Namespace) -> "Text":
    """The text of the file that is named, or of standard input.

    Raises:
        WorkbenchError: it can't be read.
    """
    from workbench.measured.tables.decoding import text_of_bytes, text_of_file  # noqa: PLC0415 - help starts without the engine

    if asked.data == "-":
        if sys.stdin is None:  # it was closed before the start
            raise WorkbenchError("standard input is closed; name a file, or give the cells to the command")
        return text_of_bytes(sys.stdin.buffer.read(), "standard input", encoding=asked.encoding)
    return text_of_file(asked.data, encoding=asked.encoding)


_DATA_OPTIONS = {
    "encoding": "--encoding", "decimal": "--decimal", "x": "--x", "y": "--y", "x_unit": "--x-unit",
    "y_unit": "--y-unit", "sample_rate_hz": "--sample-rate", "parameter": "--what", "quantity": "--quantity",
    "round_trip": "--round-trip or --one-way", "loss_positive": "--loss-positive or --loss-negative",
    "ports": "--ports",
}  # fmt: skip
_LANE_OPTIONS = {
    "encoding": "--encoding", "decimal": "--decimal", "names": "--names", "runs": "--run", "unit": "--unit",
}  # fmt: skip


def _asking(do: Callable[[], ResultT], options: dict[str, str]) -> ResultT:
    """What `do` gives; where it asks for something, the option that states it is named."""
    try:
        return do()
    except NotStatedError as asking:
        option = options.get(asking.wanted)
        raise WorkbenchError(f"{asking}{f' ({option})' if option else ''}") from asking


def _run_of(words: str) -> tuple[int, str]:
    place, equals, title = words.partition("=")
    if not equals or not place.strip().isdecimal() or not title.strip():
        raise WorkbenchError(f'--run {quoted(words)} is not ELEMENT=TITLE; write it such as "1=Card length"')
    return int(place), title.strip()


def _free_of(board: "Board", words: str) -> "Free":
    """A value to fit, with bounds after an equals sign: "PATH=80 ohm..120 ohm"."""
    from workbench.measured.fit.fields import Free, field_of  # noqa: PLC0415 - help starts without the engine

    path, equals, bounds = words.rpartition("=")
    if not equals:
        return Free(words)
    low, dots, high = bounds.partition("..")
    if not dots:
        raise WorkbenchError(f"--free {quoted(words)} has no bounds after its equals sign; write them such as 80..120")
    unit = field_of(board, Free(path)).fact.unit
    return Free(path, *(parse(end, unit=unit) if end.strip() else None for end in (low, high)))


def _written(asked: argparse.Namespace, board: "Board", before: "Board") -> int:
    """Write the changed board where that is wanted, and say so on standard error, apart from a report in JSON."""
    target = asked.output or (asked.file if asked.write else None)
    if target is None:
        return PASSED
    if board == before and target == asked.file:
        sys.stderr.write("nothing changed; nothing written\n")
        return PASSED
    if asked.output and Path(asked.output).exists() and not asked.write:
        raise WorkbenchError(f"{quoted(target)} is there already; choose another name, or replace it with --write")
    save_board(board, target)
    sys.stderr.write(f"wrote {quoted(target)}\n")
    return PASSED


def _add_lanes(commands: "Commands[Parser]") -> None:
    words = named_command(commands, "lanes", _LANES)
    words.add_argument("file", metavar="FILE", help="board file")
    words.add_argument("data", metavar="LIST", help="CSV file, or - for cells on standard input")
    words.add_argument("--template", metavar="LANE", required=True, help="lane whose path is the pattern")
    words.add_argument(
        "--run", metavar="ELEMENT=TITLE", nargs="+", action="extend", default=[],
        help="column with the length of the run at an element of the path",
    )  # fmt: skip
    words.add_argument("--names", metavar="TITLE", help="column with the lanes' names")
    words.add_argument("--unit", metavar="U", help="unit of lengths without a unit, such as mil")
    words.add_argument("--add", action="store_true", help="make lanes that the board does not have")
    words.add_argument(
        "--pair-ends", metavar=("P", "N"), nargs=2, help="endings of a pair's two halves, where each has a row"
    )
    _add_reading(words)
    add_lengths(words)
    add_explain(words)
    _add_writing(words)


def _add_beside(commands: "Commands[Parser]") -> None:
    words = named_command(commands, "overlay", _BESIDE)
    _add_data(words)
    add_lengths(words)
    add_explain(words)
    _add_writing(words)


def _add_fit(commands: "Commands[Parser]") -> None:
    words = named_command(commands, "fit", _FIT)
    _add_data(words)
    words.add_argument(
        "--free", metavar="PATH[=LOW..HIGH]", nargs="+", action="extend", default=[],
        help="values to fit, such as lines/NAME/impedance_ohm, each with bounds where wanted",
    )  # fmt: skip
    words.add_argument("--values", action="store_true", help="list every value that can be fitted")
    add_lengths(words)
    add_explain(words)
    for side in ("before", "after"):
        words.add_argument(
            f"--{side}", metavar="NAME", nargs="+", action="extend", default=[],
            help=f"catalogue entries between a probe and the lane, {side} it",
        )  # fmt: skip
    _add_writing(words)


def _add_data(words: Parser) -> None:
    words.add_argument("file", metavar="FILE", help="board file")
    words.add_argument("data", metavar="DATA", nargs="?", help="CSV or Touchstone file; without one, what FILE keeps")
    words.add_argument("--measured", metavar="NAME", nargs="+", action="extend", default=[], help="only these it keeps")
    words.add_argument("--lane", metavar="NAME", help="the lane that was measured")
    words.add_argument("--what", choices=_KINDS, help="what was measured")
    words.add_argument("--probe", metavar="POINT", default="pins", help="probe point where it was measured (pins)")
    words.add_argument("--elements", metavar="A-B", help="first and last element between the probes, from 1")
    words.add_argument("--name", metavar="NAME", help="name of the measurement (the file's name)")
    words.add_argument("--reference", metavar="Z", help="differential reference of the probes (100 ohm)")
    words.add_argument("--x", metavar="TITLE", help="column of the time or frequency")
    words.add_argument("--y", metavar="TITLE", help="column of the curve")
    words.add_argument("--minus", metavar="TITLE", help="column to subtract: the pair's other half")
    words.add_argument("--x-unit", metavar="U", help="unit of the time or frequency")
    words.add_argument("--y-unit", metavar="U", help="unit of the curve")
    words.add_argument("--sample-rate", metavar="R", help="samples per second, such as 100 GHz")
    words.add_argument("--quantity", choices=("impedance", "reflection", "transmitted"), help="what a step shows")
    trip = words.add_mutually_exclusive_group()
    trip.add_argument("--round-trip", action="store_true", default=None, help="times count the round trip")
    trip.add_argument("--one-way", dest="round_trip", action="store_false", help="times count one way")
    loss = words.add_mutually_exclusive_group()
    loss.add_argument("--loss-positive", action="store_true", default=None, help="a loss is a positive number of dB")
    loss.add_argument("--loss-negative", dest="loss_positive", action="store_false", help="a loss is a negative one")
    words.add_argument("--ports", metavar="MAP", help='ports of a Touchstone file, such as "1,2:3,4"')
    words.add_argument("--left", metavar="NAME", help="network of the left fixture, de-embedded from Touchstone data")
    words.add_argument("--right", metavar="NAME", help="network of the right fixture, likewise")
    words.add_argument("--height", metavar="V", help="a measured eye's height")
    words.add_argument("--width", metavar="UI", help="a measured eye's width")
    words.add_argument("--ber", metavar="B", help="BER that the eye holds for (the profile's)")
    _add_reading(words)


def _add_reading(words: Parser) -> None:
    words.add_argument("--decimal", choices=(".", ","), help="decimal sign, where the numbers don't show it")
    words.add_argument("--encoding", metavar="E", help="encoding, where the text is not UTF-8, such as cp1252")
    words.add_argument("--json", action="store_true", help="print JSON")


def _add_writing(words: Parser) -> None:
    words.add_argument("-o", "--output", metavar="FILE", help="write the changed board here")
    words.add_argument("--write", action="store_true", help="write the changed board, replacing what is there")


OFFERS = (
    CommandOffer("lanes", _add_lanes, lanes),
    CommandOffer("overlay", _add_beside, beside),
    CommandOffer("fit", _add_fit, fit),
)
