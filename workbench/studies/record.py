"""What every answer of a study says about where it comes from."""

import hashlib
from collections.abc import Sequence

import msgspec

from workbench import __version__
from workbench.board.model import Board
from workbench.board.writing import dump_board
from workbench.engine.symbols import Symbols
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Outcome


class AnswerOrigin(msgspec.Struct, frozen=True, kw_only=True):
    """Where an answer comes from.

    Attributes:
        board: the board's title.
        board_sha256: of the board's file.
        program: the version that made it.
        probe, ber: where the lanes were judged, and at which error ratio (None: each profile's own).
        assessments: how many jobs were done.
        took_s: wall-clock time, s.
        workers: how many worked.
        shared_ratio: share of what lanes and variants have in common (spans, lines, signals) that was known already.
        stopped: why the study is not complete, as a sentence; "" where it is.
        symbols: which symbols counted.
    """

    board: str
    board_sha256: str
    program: str
    probe: str
    ber: float | None
    assessments: int
    took_s: float
    workers: int
    shared_ratio: float
    stopped: str
    symbols: str = Symbols.CODED.value


def made_of(basis: Basis, outcomes: Sequence[Outcome]) -> AnswerOrigin:
    """What is to be said of an answer that came of some outcomes."""
    asked = sum(outcome.shared.asked for outcome in outcomes)
    known = sum(outcome.shared.known for outcome in outcomes)
    return AnswerOrigin(
        board=basis.board.title,
        board_sha256=basis.sha256 or sha256_of(basis.board),
        program=__version__,
        probe=basis.probe,
        ber=basis.ber,
        assessments=sum(outcome.assessments for outcome in outcomes),
        took_s=sum(outcome.took_s for outcome in outcomes),
        workers=max((outcome.workers for outcome in outcomes), default=0),
        shared_ratio=known / asked if asked else 0.0,
        symbols=basis.symbols.value,
        stopped=next((outcome.stopped for outcome in outcomes if outcome.stopped), ""),
    )


def sha256_of(board: Board) -> str:
    """SHA-256 of a board's file as this program writes it."""
    return hashlib.sha256(dump_board(board)).hexdigest()
