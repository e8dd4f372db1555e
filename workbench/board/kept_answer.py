"""Answers of studies that are kept with the board: what was asked, what came of it, and of which state of the board."""

from typing import Annotated

import msgspec

from workbench.facts import choice, text


class KeptAnswer(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One answer as it was read: a sentence and a table of words; it is not computed again."""

    name: Annotated[str, text("Name", "What it is called on this board.", required=True)]
    study: Annotated[str, text("Study", "Which study gave it.", required=True)]
    subject: Annotated[str, text("Subject", "What it is about: a device, a run or a lane.")] = ""
    sentence: Annotated[str, text("Answer", "The answer in a sentence or two.")] = ""
    heads: Annotated[tuple[str, ...], choice("Columns", "The headings of its table.")] = ()
    rows: Annotated[tuple[tuple[str, ...], ...], choice("Rows", "Its table, the best first.")] = ()
    board_sha256: Annotated[str, text("Board", "SHA-256 of the board that the study was run on.")] = ""
