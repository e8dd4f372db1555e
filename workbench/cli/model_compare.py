"""`link-margin model compare`: a maker's model beside the data sheet's table and the program's own figures."""

import argparse
import json
import math
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.cli.arguments import Parser, add_explain, print_explained
from workbench.cli.boards import load_board
from workbench.cli.statuses import PASSED
from workbench.errors import ModelError
from workbench.quantity import show
from workbench.wording import quoted

if TYPE_CHECKING:
    from workbench.studies.second_opinion import EyeBeside, SecondOpinion, Several

COMPARE = """\
examples:
  link-margin model compare driver.ami --board shelf.board.json --lane D0 --at transmitter
  link-margin model compare redriver.ami --board shelf.board.json --lane D0 --at U1 --set eq=3

The lane is assessed with the part as the board has it, and with the model in its place. Of the model, the
statistical eye and bits sent through it (bit-by-bit) are compared.

exit status: 0 done, 2 the input could not be read, or the model gave no answer
"""


def compare(asked: argparse.Namespace) -> int:
    """Hold a model against the figures of the part that it is for.

    Raises:
        ModelError: the model can't be read or run, or several are in the file.
        WorkbenchError: the board can't be read, or has no such lane or place.
    """
    from workbench.cli.model import texts_of  # noqa: PLC0415 - help starts without it
    from workbench.makers.files import candidates_of, use_of  # noqa: PLC0415 - as above
    from workbench.studies.second_opinion import second_opinion  # noqa: PLC0415 - as above

    found = candidates_of(Path(asked.file), Path(asked.library) if asked.library else None)
    if len(found) > 1:
        raise ModelError(f"{quoted(asked.file)} has several models; name the .ami file of one")
    use = use_of(found[0], texts_of(asked.set or []))
    board = load_board(asked.board).board
    opinion = second_opinion(board, asked.lane, asked.at, use, bits=asked.bits)
    if asked.explain:
        print_explained(asked, f"model {use.model} at {opinion.at} of lane {opinion.lane}", opinion, board)
    elif asked.json:
        sys.stdout.write(json.dumps(_content(opinion), indent=2, ensure_ascii=False) + "\n")
    else:
        sys.stdout.write("\n".join(_lines(opinion, use.model)) + "\n")
    return PASSED


def add_compare_options(offered: Parser) -> None:
    """What is asked besides the model's files."""
    offered.add_argument("--board", metavar="BOARD", required=True, help="board file")
    offered.add_argument("--lane", metavar="NAME", required=True, help="the lane")
    words = "transmitter, receiver, or the device on the lane whose part the model is for"
    offered.add_argument("--at", metavar="PLACE", required=True, help=words)
    offered.add_argument(
        "--set", metavar="NAME=VALUE", nargs="+", action="extend", help="parameters that differ from the file"
    )
    words = "how many bits are sent through the model, 0 for none (200000)"
    offered.add_argument("--bits", metavar="N", type=_count, default=200_000, help=words)
    add_explain(offered)
    offered.add_argument("--json", action="store_true", help="print JSON")


def _count(text: str) -> int:
    if not (text.isascii() and text.isdigit()) or len(text) > 9:
        raise argparse.ArgumentTypeError(f"{quoted(text)} is not a number of bits; write one such as 200000")
    return int(text)


def _lines(found: "SecondOpinion", name: str) -> Iterator[str]:
    gains = found.gains
    yield f"model {name} at {found.at} of lane {found.lane}"
    yield f"{'frequency':>12}  {'model':>9}  {'own':>9}  difference"
    for f_hz, *levels in zip(gains.f_hz, gains.model_db, gains.own_db, gains.apart_db, strict=True):
        yield f"{show(f_hz, 'Hz'):>12}  {'  '.join(map(_db, levels))}"
    if gains.table_hz:
        yield f"{'':>12}  {'model':>9}  {'table':>9}  difference"
    table = zip(gains.table_hz, gains.model_at_table_db, gains.table_db, gains.table_apart_db, strict=True)
    for f_hz, *levels in table:
        yield f"{show(f_hz, 'Hz'):>12}  {'  '.join(map(_db, levels))}"
    yield (
        f"statistical eye: model {_eye(found.model)}; own figures {_eye(found.own)}; "
        f"difference {_apart(found.apart_v, found.apart_ui)} (BER {found.model.error_ratio:.0e})"
    )
    if found.counted is not None and found.model_again is not None:
        yield (
            f"model: statistical {_eye(found.model_again)}; bit-by-bit {_eye(found.counted)}; "
            f"difference {_apart(found.counted_apart_v, found.counted_apart_ui)} (BER {found.counted.error_ratio:.0e})"
        )


def _eye(one: "EyeBeside") -> str:
    return f"{1e3 * one.height_v:.1f} mV, {one.width_ui:.3f} UI"


def _apart(height_v: float | None, width_ui: float | None) -> str:
    return f"{1e3 * (height_v or 0.0):+z.1f} mV, {width_ui or 0.0:+z.3f} UI"


def _db(level: float) -> str:
    return f"{level:6.2f} dB" if math.isfinite(level) else "        -"


def _content(found: "SecondOpinion") -> dict[str, object]:
    def numbers(values: "Several") -> list[float | None]:
        return [value if math.isfinite(value) else None for value in values]

    gains = found.gains
    derived = {"apart_db": gains.apart_db, "table_apart_db": gains.table_apart_db}
    eyes = {"own": found.own, "model": found.model, "model_again": found.model_again, "counted": found.counted}
    return {
        "lane": found.lane, "at": found.at,
        "gains": {name: numbers(values) for name, values in {**gains._asdict(), **derived}.items()},
        **{name: None if eye is None else eye._asdict() for name, eye in eyes.items()},
        "apart_v": found.apart_v, "apart_ui": found.apart_ui,
        "counted_apart_v": found.counted_apart_v, "counted_apart_ui": found.counted_apart_ui,
    }  # fmt: skip
