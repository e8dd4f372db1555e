"""`link-margin import` of a maker's model: onto a transmitter, a receiver, or a redriver's input or output."""

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.cli.boards import load_board, save_board
from workbench.cli.statuses import PASSED
from workbench.errors import ModelError
from workbench.wording import any_of, quoted

if TYPE_CHECKING:
    from workbench.board.edits.models import ModelPlace

_PLACES: "dict[str, ModelPlace]" = {
    "transmitter": "transmitter", "receiver": "receiver", "redriver-input": "input", "redriver-output": "output"
}  # fmt: skip


def add_model_options(offered: argparse.ArgumentParser) -> None:
    """What is asked about a model, and onto which part something goes."""
    words = {
        "transmitter": "onto a transmitter: a model, .s1p its termination, .s2p or .s4p its package, .csv its edge",
        "receiver": "onto a receiver: a model, .s1p its termination, .s2p or .s4p its package",
        "redriver-input": "onto a redriver's input: a model (made where there is none), a network its termination",
        "redriver-output": "onto a redriver's output, as above",
    }  # fmt: skip
    for option in _PLACES:
        offered.add_argument(f"--{option}", metavar="NAME", help=words[option])
    offered.add_argument("--library", metavar="FILE", help="of an .ami file: its library (the one beside it)")
    offered.add_argument(
        "--set", metavar="NAME=VALUE", action="append", default=[], help="of a model: one of its parameters"
    )
    offered.add_argument("--corner", choices=("typ", "slow", "fast"), default="typ", help="of a model (typ)")


def place_named(asked: argparse.Namespace) -> "tuple[ModelPlace, str]":
    """Which place was named, and the part.

    Raises:
        ModelError: none was, or several.
    """
    named = places_named(asked)
    if len(named) != 1:
        words = any_of(f"--{option}" for option in _PLACES)
        raise ModelError(f"state where the model belongs; write one of {words}, and the part's name")
    return named[0]


def places_named(asked: argparse.Namespace) -> "list[tuple[ModelPlace, str]]":
    """Every place that was named, and its part."""
    return [(place, name) for option, place in _PLACES.items() if (name := getattr(asked, option.replace("-", "_")))]


def import_model(asked: argparse.Namespace) -> int:
    """Put a model on a part of a board.

    Raises:
        ModelError: the model can't be read, or it was not said where it belongs.
        WorkbenchError: the board can't be read or written, or has no such part.
    """
    from workbench.board.edits.models import put_model  # noqa: PLC0415 - help starts without it
    from workbench.cli.model import texts_of  # noqa: PLC0415 - as above
    from workbench.makers.files import candidates_of, use_of  # noqa: PLC0415 - as above
    from workbench.makers.trust import Trust  # noqa: PLC0415 - as above

    place, name = place_named(asked)
    found = candidates_of(Path(asked.network), Path(asked.library) if asked.library else None)
    if len(found) > 1:
        names = any_of(one.ami.source for one in found)
        raise ModelError(f"{quoted(asked.network)} has several models; import one of {names} instead")
    use = use_of(found[0], texts_of(asked.set), asked.corner)
    board = put_model(load_board(asked.file).board, place, name, use)
    target = Path(asked.output or asked.file)
    save_board(board, target)
    trusted = bool(Trust().stamp(use.library_sha256, use.ami_sha256))
    if asked.json:
        content = {"board": str(target), "model": use.model, "place": place, "part": name, "trusted": trusted}
        sys.stdout.write(json.dumps(content, indent=2, ensure_ascii=False) + "\n")
        return PASSED
    sys.stdout.write(f"wrote {quoted(str(target))} with model {quoted(use.model)} on {place} {quoted(name)}\n")
    if not trusted:
        sys.stdout.write(
            f"it is not trusted yet, so its lanes are not judged; link-margin model trust {asked.network}\n"
        )
    return PASSED
