"""Tolerances on the command line: typed, or from a file."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.cli.arguments import Parser

if TYPE_CHECKING:
    # The engine comes with it, and help starts without it.
    from workbench.studies.tolerances import Tolerance


def add_tolerances(asking: Parser) -> None:
    """Arguments that declare what varies."""
    asking.add_argument(
        "--tolerance", metavar="WHAT=RANGE", nargs="+", action="extend", default=[],
        help='what varies and how far: "impedance=±10%%", "length=-1%%..+2%% uniform per lane", "boost:U1=±1 dB", '
        '"vias:through via:stub_m=±0.2 mm"; WHAT is loss, copper loss, impedance, permittivity, length, boost, swing, '
        "gain, emphasis, noise, random jitter, deterministic jitter, each also of one entry or device (boost:U1), or "
        "any number as SECTION:NAME:FIELD; normal, three sigma wide, unless uniform is said; one deviation per board "
        "unless per layer or per lane is said",
    )  # fmt: skip
    asking.add_argument(
        "--tolerances", metavar="FILE", nargs="+", action="extend", default=[],
        help='files of them, JSON: {"tolerances": [{"on": "impedance", "low": -0.1, "high": 0.1}]}',
    )  # fmt: skip


def tolerances_of(asked: argparse.Namespace) -> tuple["Tolerance", ...]:
    """What was declared; raises StudyError where it does not read so."""
    from workbench.studies.tolerances import read_tolerances, tolerance_from_text  # noqa: PLC0415 - help is quick

    read = [one for name in asked.tolerances for one in read_tolerances(Path(name))]
    return (*read, *map(tolerance_from_text, asked.tolerance))
