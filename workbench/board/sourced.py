"""A number with where it comes from."""

from typing import Annotated, Literal

import msgspec

from workbench.facts import choice, text

Status = Literal["published", "common practice", "from memory", "own requirement"]
STATUS_WORDS: dict[str, str] = {
    "published": "published", "common practice": "common practice", "from memory": "unverified",
    "own requirement": "own requirement",
}  # fmt: skip
"""What a reader is told: a recalled number is an unverified one."""


class Sourced(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A number with where it comes from and how far that may be trusted.

    `status` is "published" (read in the named text), "common practice" (a rule of the trade without a source),
    "from memory" (recalled; to be looked up before it is relied on) or "own requirement" (set by the board's owner).
    """

    value: Annotated[float, choice("Value", "The number, in the unit that the field's name ends with.")]
    source: Annotated[str, text("Source", "Document, revision and place.", required=True)]
    status: Annotated[Status, choice("Status", "How far the number may be trusted.")]
