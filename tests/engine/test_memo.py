"""The memo: bounded in bytes, the longest unused goes first, each result made once."""

import numpy as np
import pytest

from tests.lanes import assessed, lane_board, trace
from workbench.board.model import Stage
from workbench.engine.memo import Memo


def test_a_kept_result_is_not_made_again():
    memo, made = Memo(), []
    for _ in range(3):
        memo.get("key", lambda: made.append(1) or 7)
    assert len(made) == 1
    memo.clear()
    memo.get("key", lambda: made.append(1) or 7)
    assert len(made) == 2


def test_it_stays_within_its_bytes_and_forgets_the_longest_unused():
    memo = Memo(limit_bytes=5 * 10_000)
    memo.get(0, lambda: np.zeros(1000))
    for n in range(1, 10):
        memo.get(n, lambda: np.zeros(1000))
        memo.get(0, lambda: pytest.fail("used all the time, yet forgotten"))
        assert memo.size_bytes <= 5 * 10_000
    assert memo.get(9, lambda: pytest.fail("the newest is kept")).size == 1000
    remade = []
    memo.get(1, lambda: remade.append(1) or np.zeros(1000))
    assert remade


def test_what_results_share_counts_once_and_a_window_counts_as_all_that_it_holds():
    memo, shared = Memo(limit_bytes=1_000_000), np.zeros(10_000)
    memo.get("whole", lambda: shared)
    memo.get("part", lambda: (shared[:10], shared[::-1][5:7]))
    assert 80_000 <= memo.size_bytes < 82_500
    small = Memo(limit_bytes=81_000)
    small.get("window", lambda: np.zeros(10_000)[:1])
    small.get("other", lambda: np.zeros(1_000))
    remade = []
    small.get("window", lambda: remade.append(1) or np.zeros(1))
    assert remade


def test_an_array_counts_until_the_last_result_with_it_is_forgotten():
    memo, shared = Memo(limit_bytes=100_000), np.zeros(10_000)
    memo.get("first", lambda: shared)
    memo.get("second", lambda: (shared,))
    memo.get("third", lambda: np.zeros(2_400))  # the first goes; what it held stays, so the second has to go as well
    assert memo.size_bytes == 2_400 * 8 + 2 * 512
    memo.get("third", lambda: pytest.fail("the newest is kept"))


def test_a_result_larger_than_the_limit_is_still_given():
    memo = Memo(limit_bytes=100)
    assert memo.get("large", lambda: np.arange(1000)).sum() == 499500


@pytest.mark.parametrize("limit_bytes", [1, 200_000])
def test_a_memo_too_small_for_a_lane_changes_no_result(limit_bytes):
    board = lane_board((trace(0.2, "lossy"), Stage(device="U1", channel=1), trace(0.2, "lossy")))
    assert assessed(board, memo=Memo(limit_bytes=limit_bytes)) == assessed(board)
