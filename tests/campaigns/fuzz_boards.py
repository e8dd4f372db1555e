"""Spoils board files, by their structure and by their bytes, and looks at what the program makes of them.

    python -m tests.campaigns.fuzz_boards [CASES [FIRST]]

A board that reads is checked, written, read back, and every fourth time one of its lanes is assessed as well.
"""

import copy
import json
import random
import sys
from collections.abc import Callable, Iterator
from functools import lru_cache
from typing import Any

from tests.board.sample import sample_board
from tests.campaigns.fuzzing import LONGEST_ASSESSED_S, allow, main
from workbench.board.checking import check
from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.model import Board
from workbench.board.reading import read_board
from workbench.board.writing import dump_board
from workbench.engine.assess import assess_lane
from workbench.engine.lane.path import plan_lane
from workbench.engine.memo import Memo
from workbench.resources import project

CASES, SEED, ASSESSED = 100_000, 20_262, 4
DEMOS = ("correlator-shelf", "observing-room", "recorder-bay")
NUMBERS = (
    0, -0.0, 1, -1, 1e-308, 5e-324, 1e308, -1e308, 1e-12, 1e9, 1e15, 2**63, -(2**63), 10**40, 0.5, 1.0000000001, 64, 65,
    256, 100_000, float("nan"), float("inf"), float("-inf"),
)  # fmt: skip
TEXTS = (
    "", " ", "none", "run", "stage", "U1", "\u0000", "\ud800", "\u202e", "a" * 5_000, "../../etc/passwd", "${HOME}",
    "<script>", "'; --", "µΩ", "1e5", "true", "null", "by-loss", "{0}", "%s", "\n", "𝔘𝔫𝔦𝔠𝔬𝔡𝔢",
)  # fmt: skip


@lru_cache(maxsize=1)
def seeds() -> tuple[bytes, ...]:
    """Sound boards: the demos and the tests' own, as they are written."""
    demos = [project(f"{name}.board.json").read_bytes() for name in DEMOS]
    return (*demos, dump_board(sample_board()))


def spots(value: Any) -> list[tuple[Any, Any]]:
    """Every (container, key) of decoded JSON."""
    return list(_spots(value))


def _spots(value: Any) -> Iterator[tuple[Any, Any]]:
    keys = value.keys() if isinstance(value, dict) else range(len(value)) if isinstance(value, list) else ()
    for key in list(keys):
        yield value, key
        yield from _spots(value[key])


def _replaced(chance: random.Random, holder: Any, key: Any, whole: Any) -> None:
    kinds: list[Callable[[], Any]] = [
        lambda: chance.choice(NUMBERS), lambda: chance.choice(TEXTS), lambda: None, lambda: chance.random() < 0.5,
        dict, list, lambda: [holder[key]], lambda: {"name": holder[key]},
    ]  # fmt: skip
    holder[key] = chance.choice(kinds)()


def _scaled(chance: random.Random, holder: Any, key: Any, whole: Any) -> None:
    value = holder[key]
    if isinstance(value, int | float) and not isinstance(value, bool):
        holder[key] = value * chance.choice((-1, 0, 1e-9, 1e-3, 0.1, 0.5, 1.5, 3, 10, 1e3, 1e9))
    else:
        _replaced(chance, holder, key, whole)


def _dropped(chance: random.Random, holder: Any, key: Any, whole: Any) -> None:
    del holder[key]


def _doubled(chance: random.Random, holder: Any, key: Any, whole: Any) -> None:
    if isinstance(holder, list):
        holder.insert(key, copy.deepcopy(holder[key]))
    else:
        holder[f"{key}{chance.choice(('', ' ', '2', '_'))}"] = copy.deepcopy(holder[key])


def _copied(chance: random.Random, holder: Any, key: Any, whole: Any) -> None:
    other, other_key = chance.choice(spots(whole))
    holder[key] = copy.deepcopy(other[other_key])


def _renamed(chance: random.Random, holder: Any, key: Any, whole: Any) -> None:
    if isinstance(holder, dict):
        holder[chance.choice((*TEXTS, key.upper(), key[:-1]))] = holder.pop(key)
    else:
        chance.shuffle(holder)


def _nested(chance: random.Random, holder: Any, key: Any, whole: Any) -> None:
    for _ in range(chance.choice((1, 3, 200))):
        holder[key] = [holder[key]] if chance.random() < 0.5 else {str(key): holder[key]}


MUTATIONS = (_replaced, _scaled, _scaled, _scaled, _dropped, _doubled, _copied, _renamed, _nested)


def spoilt_by_structure(chance: random.Random, data: bytes) -> bytes:
    """A board with one to four of its values changed."""
    whole = json.loads(data)
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        places = spots(whole)
        if places:
            chance.choice(MUTATIONS)(chance, *chance.choice(places), whole)
    return json.dumps(whole, ensure_ascii=chance.random() < 0.5).encode("utf-8", "surrogatepass")


def stretched(chance: random.Random, data: bytes) -> bytes:
    """A board with some of its numbers a little or much larger or smaller: most of these read, and reach the engine."""
    whole = json.loads(data)
    numbers = [
        (holder, key) for holder, key in spots(whole)
        if isinstance(holder[key], int | float) and not isinstance(holder[key], bool) and key != "version"
    ]  # fmt: skip
    for holder, key in chance.sample(numbers, chance.choice((1, 3, 12))):
        factor = chance.choice((0.0, 1e-3, 0.1, 0.5, 0.9, 1.1, 2.0, 5.0, 30.0))
        holder[key] = int(holder[key] * factor) if isinstance(holder[key], int) else holder[key] * factor
    return json.dumps(whole).encode()


def spoilt_by_bytes(chance: random.Random, data: bytes) -> bytes:
    """A file cut, overwritten, doubled in part, or in another encoding."""
    at, other = chance.randrange(len(data)), chance.randrange(len(data))
    if chance.random() < 0.12:
        return data.decode("utf-8", "replace").encode(chance.choice(("utf-16", "utf-16-le", "utf-32", "utf-8-sig")))
    between = chance.choice((
        b"", bytes([chance.randrange(256)]), chance.randbytes(chance.choice((1, 4, 300))),
        data[min(at, other) : max(at, other)], b"[" * chance.choice((10, 2_000, 100_000)),
        b"9" * chance.choice((20, 400, 5_000)),
    ))  # fmt: skip
    behind = data[at + chance.choice((0, 1, 2, 50)) :] if between or chance.random() < 0.5 else b""
    return data[:at] + between + behind


def spoilt(number: int) -> bytes:
    """Case number so and so."""
    chance = random.Random(SEED * 1_000_003 + number)
    data = chance.choice(seeds())
    ways = (spoilt_by_bytes, spoilt_by_structure, spoilt_by_structure, stretched)
    return chance.choice(ways)(chance, data)


def judge(number: int) -> str:
    """Put a case through."""
    board = read_board(spoilt(number)).board
    assert not check(board), "what was read is not sound"
    again = read_board(dump_board(board)).board
    assert again == board, "what was written reads as another board"
    if number % ASSESSED or not board.lanes:
        return "read"
    allow(LONGEST_ASSESSED_S)
    assess_one(board, number)
    return "read and assessed"


def assess_one(board: Board, number: int) -> None:
    """Assess one of a board's lanes."""
    lane = board.lanes[number // ASSESSED % len(board.lanes)]
    plan = plan_lane(Index(board), lane, profile_of(board, lane.profile or board.profile))
    found = assess_lane(Memo(), plan, lane.length_m, board.guard)
    assert found.margin.verdict in ("pass", "not judged", "marginal", "fail")


if __name__ == "__main__":
    sys.exit(main("tests.campaigns.fuzz_boards", judge, CASES))
