"""A board's lanes at once: the same figures, bit by bit, as one after the other."""

import msgspec
import pytest

from tests.bench.boards import conditioned
from tests.thinning import sparing
from workbench.engine.assess import assess_board
from workbench.engine.symbols import Symbols
from workbench.errors import ProbePointError

BOARD = conditioned(5)


@pytest.mark.parametrize("symbols", sparing(Symbols, Symbols.CODED))
def test_many_lanes_at_once_give_what_one_after_the_other_gives(symbols: Symbols) -> None:
    told: list[tuple[int, int]] = []
    one = assess_board(BOARD, sha256="", symbols=symbols, threads=1)
    many = assess_board(BOARD, sha256="", symbols=symbols, threads=4, progress=lambda *now: told.append(now))
    assert msgspec.json.encode(one) == msgspec.json.encode(many)
    assert told == [(done, 5) for done in range(1, 6)]


def test_what_one_lane_refuses_is_said_as_before() -> None:
    with pytest.raises(ProbePointError, match="has no probe point 'nowhere'"):
        assess_board(BOARD, sha256="", probe="nowhere", threads=3)


class StoppedError(Exception):
    """Raised by whoever follows the progress."""


@pytest.mark.campaign
def test_who_follows_the_progress_may_end_it() -> None:
    def stop(done: int, _: int) -> None:
        if done == 2:
            raise StoppedError

    with pytest.raises(StoppedError):
        assess_board(BOARD, sha256="", threads=2, progress=stop)
