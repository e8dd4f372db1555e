"""`link-margin import` of network files, one a setting, as one conditioner."""

import argparse
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from workbench.cli.boards import load_board, save_board
from workbench.cli.statuses import PASSED
from workbench.wording import quoted

if TYPE_CHECKING:
    from workbench.measured.touchstone.network_sets import FoundSettings, ReadSet
    from workbench.measured.touchstone.ports import PortMap
    from workbench.measured.touchstone.reading import Measured


def import_set(
    asked: argparse.Namespace, paths: list[Path], ports_of: "Callable[[Measured], PortMap]"
) -> int:
    """Add a conditioner of network files to a board.

    Args:
        asked: the arguments.
        paths: files and folders.
        ports_of: what a file's ports are.

    Raises:
        WorkbenchError: names, files or board don't make a conditioner, or the board can't be written.
    """
    from workbench.board.edits.catalogue import add_entry  # noqa: PLC0415 - help starts without it
    from workbench.measured.touchstone.network_sets import (  # noqa: PLC0415 - as above
        network_files,
        read_active,
        read_set,
        settings_in,
    )

    board = load_board(asked.file).board
    files = {path.name: path for path in network_files(paths)}
    found = settings_in(tuple(files), asked.settings or "")
    made = read_set(
        found, lambda name: read_active(files[name], ports=asked.count, trusted=asked.trusted),
        name=asked.name or "by networks", ports_of=ports_of, channels=asked.channels,
    )  # fmt: skip
    target = Path(asked.output or asked.file)
    save_board(add_entry(board, "conditioners", made.part), target)
    if asked.json:
        sys.stdout.write(json.dumps(_content(target, found, made), indent=2, ensure_ascii=False) + "\n")
        return PASSED
    sys.stdout.write(f"wrote {quoted(str(target))} with conditioner {quoted(made.part.name)}\n")
    sys.stdout.write("\n".join(_lines(found, made)) + "\n")
    return PASSED


def _lines(found: "FoundSettings", made: "ReadSet") -> list[str]:
    from workbench.measured.touchstone.network_sets import poor, summary  # noqa: PLC0415 - help starts without it

    pattern = found.pattern.text if found.pattern is not None else ""
    lines = [f"settings by the pattern {pattern}   (--settings states another)"]
    width = max(len(one.settings) for one in made.part.networks)
    for one, (_, aspects) in zip(made.part.networks, made.aspects, strict=True):
        lines.append(f"  {one.settings:<{width}}  {one.source}: {summary(one)}")
        lines += [f"  {'':<{width}}    {sentence}" for sentence in poor(aspects)]
    return [*lines, *(f"  {note}" for note in made.notes)]


def _content(target: Path, found: "FoundSettings", made: "ReadSet") -> dict[str, object]:
    return {
        "board": str(target), "conditioner": made.part.name,
        "pattern": found.pattern.text if found.pattern is not None else "",
        "networks": [
            {"settings": dict(one.positions), "source": one.source, "source_sha256": one.source_sha256,
             "points": one.points, "quality": msgspec.to_builtins(aspects)}
            for one, (_, aspects) in zip(made.part.networks, made.aspects, strict=True)
        ],
        "left_out": list(found.left_out), "notes": list(made.notes),
    }  # fmt: skip
