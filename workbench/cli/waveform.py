"""`link-margin waveform FILE --lane NAME`: bits sent one by one through a lane, and counted."""

import argparse
import shutil
import sys
from pathlib import Path

from workbench.cli.arguments import (
    CommandOffer,
    Commands,
    Parser,
    add_explain,
    error_ratio,
    named_command,
    print_explained,
)
from workbench.cli.boards import lanes_of, load_board
from workbench.cli.progress import ProgressLine
from workbench.cli.statuses import INTERRUPTED, PASSED
from workbench.cli.study import cancelling
from workbench.errors import WorkbenchError
from workbench.quantity import parse
from workbench.replacing import replace_file
from workbench.wording import quoted

_EPILOG = """\
examples:
  link-margin waveform shelf.board.json --lane D0
  link-margin waveform shelf.board.json --lane D0 --probe "U7 input" --pattern prbs31 --bits 1e7
  link-margin waveform shelf.board.json --lane D0 --pattern bits:1100101 --csv curves.csv
  link-margin waveform shelf.board.json --lane D0 --sine-jitter "40 ps" --sine-frequency "10 MHz"

patterns:
  prbs7 ... prbs31, random, 8b10b, 128b130b, 64b66b, tmds, bits:0101, file:NAME; worst: the sequence of the
  line code that closes the eye furthest, over and over; without one, what the profile's line code sends for
  random data

Height and width are given by counting, at the smallest BER that so many bits can show, and
extrapolated along the tails; beside them stands the statistical eye. --csv writes the bathtub, the
crossings and the density to a file.

exit status: 0 done, 2 the input could not be read or the lane not computed, 130 stopped with Ctrl+C; what was
counted until then is printed
"""


def waveform(asked: argparse.Namespace) -> int:
    """Send bits through a lane.

    Raises:
        WorkbenchError: the board can't be read, or a lane, probe point, pattern or number is none that can be computed.
    """
    from workbench.engine.lane.path import plan_of  # noqa: PLC0415 - as above
    from workbench.engine.lane.probe import resolve_probe  # noqa: PLC0415 - help starts without the engine
    from workbench.engine.memo import Memo  # noqa: PLC0415 - as above
    from workbench.reports.waveform import waveform_csv, waveform_json, waveform_text  # noqa: PLC0415 - as above
    from workbench.waveform.beside import with_statistical  # noqa: PLC0415 - as above
    from workbench.waveform.running import run  # noqa: PLC0415 - as above
    from workbench.waveform.settings import CORNER_PER_RATE, WaveformSettings  # noqa: PLC0415 - as above

    loaded = load_board(asked.file)
    board = loaded.board
    name = lanes_of(board, [asked.lane])[0]
    lane = next(lane for lane in board.lanes if lane.name == name)
    plan = plan_of(board, lane)
    probe = resolve_probe(plan, asked.probe)
    settings = WaveformSettings(
        pattern=asked.pattern,
        bits=asked.bits,
        seed=asked.seed,
        error_ratio=asked.ber,
        sine_jitter_s=_quantity("--sine-jitter", asked.sine_jitter, "s"),
        sine_jitter_hz=_quantity("--sine-frequency", asked.sine_frequency, "Hz"),
        duty_cycle_s=_quantity("--duty-cycle", asked.duty_cycle, "s"),
        corner_per_rate=0.0 if asked.fixed_clock else CORNER_PER_RATE,
    )
    if asked.csv and not Path(asked.csv).parent.is_dir():
        # Said before the run, not after it.
        raise WorkbenchError(f"{quoted(asked.csv)} can't be written: its folder is not there; make it, or name another")
    memo = Memo()
    with cancelling() as cancelled, ProgressLine(sys.stderr, "symbols") as progress:
        found = run(plan, probe, settings, progress.show, cancelled.is_set, memo=memo)
    measures = with_statistical(found.measures, memo, plan, probe)
    if asked.explain:
        print_explained(asked, f"Bits through {asked.lane}", measures, board)
        text = ""
    elif asked.json:
        text = waveform_json(measures, complete=found.complete, board=board.title, sha256=loaded.sha256)
    else:
        text = waveform_text(measures, complete=found.complete, columns=_columns())
    sys.stdout.write(text)
    if asked.csv:
        _write(Path(asked.csv), waveform_csv(found))
    return PASSED if found.complete else INTERRUPTED


def _quantity(option: str, text: str, unit: str) -> float:
    value = parse(text, unit=unit)
    if value < 0.0:
        raise WorkbenchError(f"{option} {quoted(text)} is negative; write a number from 0 on")
    return value


def _write(path: Path, text: str) -> None:
    try:
        replace_file(path, text.encode())
    except OSError as error:
        reason = error.strerror or error
        raise WorkbenchError(f"{quoted(str(path))} can't be written ({reason}); check its place") from error


def _columns() -> int:
    return shutil.get_terminal_size((100, 24)).columns if sys.stdout.isatty() else 100


def _bits(text: str) -> int:
    """A number of bits as it is typed: 1000000 or 1e6."""
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 1.0 <= value < 1e18 or value != int(value):
        raise argparse.ArgumentTypeError(f"{quoted(text)} is not a number of bits; write one such as 1e6")
    return int(value)


def _seed(text: str) -> int:
    if not (text.isascii() and text.isdigit()) or len(text) > 18:
        raise argparse.ArgumentTypeError(f"{quoted(text)} is not a seed; write a whole number from 0 on")
    return int(text)


def _add_waveform(commands: "Commands[Parser]") -> None:
    offered = named_command(commands, "waveform", _EPILOG)
    offered.add_argument("file", metavar="FILE", help="board file")
    offered.add_argument("--lane", metavar="NAME", required=True, help="the lane")
    offered.add_argument("--probe", metavar="POINT", default="receiver", help="probe point of the signal (receiver)")
    offered.add_argument("--pattern", metavar="P", help="what to send, see below (the profile's line code)")
    offered.add_argument("--bits", metavar="N", type=_bits, default=1_000_000, help="how many bits to count (1e6)")
    offered.add_argument("--seed", metavar="S", type=_seed, default=1, help="random seed (1)")
    offered.add_argument(
        "--ber", metavar="B", type=error_ratio, help="bit error ratio to extrapolate to (the profile's own)"
    )
    offered.add_argument("--sine-jitter", metavar="T", default="0", help="sinusoidal jitter sent, peak to peak (0)")
    offered.add_argument("--sine-frequency", metavar="F", default="1 MHz", help="its frequency (1 MHz)")
    words = "duty-cycle distortion: by how much a lone 1 exceeds one UI (0)"
    offered.add_argument("--duty-cycle", metavar="T", default="0", help=words)
    offered.add_argument("--fixed-clock", action="store_true", help="ideal fixed clock instead of a recovered one")
    offered.add_argument("--csv", metavar="OUT", help="write the curves as a table, SI units")
    add_explain(offered)
    offered.add_argument("--json", action="store_true", help="print JSON")


OFFERS = (CommandOffer("waveform", _add_waveform, waveform),)
