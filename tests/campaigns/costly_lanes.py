"""No lane is out of all proportion: each one's processor time over that of a plain assessment in the same run.

    python -m tests.campaigns.costly_lanes [BOARDS [SEED [PART PARTS]]]

Lanes of random boards, at every probe point drawn, and those of the demo shelf with each of a budget's steps made
ideal, which is where nothing that is reflected dies away; by independent symbols and by 8b/10b. A part of many, counted
from 0, takes every so-manieth case.
"""

import random
import sys
import time
import warnings
from collections.abc import Iterator
from typing import NamedTuple

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import seed as seeded
from msgspec.structs import replace

from tests.strategies import boards
from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.model import Board
from workbench.board.reading import load_board
from workbench.engine.assess import assess_lane
from workbench.engine.lane.path import LanePlan, plan_lane, plan_of
from workbench.engine.lane.probe import RECEIVER, probe_names
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.resources import project
from workbench.studies.ideal import STEPS, refined, without

MOST_TIMES = 150.0
"""So many plain assessments of a passive demo lane may a lane take: 5 s where one takes 33 ms."""
PLAIN = "RX1"


class Case(NamedTuple):
    """A lane to be assessed at a probe point."""

    told: str
    plan: LanePlan
    board: Board
    probe: str


def shelf() -> Board:
    """The demo shelf."""
    return load_board(project("correlator-shelf.board.json")).board


def of_demo(names: tuple[str, ...] = ("RX0", "RX2", "RX3", "RX11")) -> Iterator[Case]:
    """Demo lanes as they are at either end, and with each of a budget's steps taken away."""
    board = shelf()
    for name in names:
        for steps in (frozenset(), *(frozenset({step}) for step in STEPS), frozenset(STEPS)):
            ideal = without(board, steps)
            plan = refined(steps, plan_of(ideal, next(lane for lane in ideal.lanes if lane.name == name)))
            yield Case(f"{name} without {', '.join(sorted(steps)) or 'nothing'}", plan, ideal, RECEIVER)
        yield Case(f"{name} at the transmitter", plan_of(board, next(one for one in board.lanes if one.name == name)),
                   board, "transmitter")  # fmt: skip


def of_chance(count: int, seed: int) -> Iterator[Case]:
    """Lanes of so many random boards, each at the receiver and at another probe point."""
    chance, drawn = random.Random(seed), []

    @seeded(seed)
    @settings(max_examples=count, phases=[Phase.generate], database=None, suppress_health_check=list(HealthCheck))
    @given(boards(max_lanes=1))
    def draw(board: Board) -> None:
        drawn.append(board)

    draw()
    for number, board in enumerate(drawn):
        lane = board.lanes[0]
        plan = plan_lane(Index(board), lane, profile_of(board, lane.profile or board.profile))
        for probe in (RECEIVER, chance.choice(probe_names(plan))):
            yield Case(f"random board {number} at {probe}", plan, board, probe)


def spent_s(case: Case, symbols: Symbols) -> float:
    """Processor time of one assessment from nothing, s."""
    plan = replace(case.plan, profile=replace(case.plan.profile, coding="8b/10b"))
    began = time.process_time()
    assess_lane(Memo(), plan, 1.0, case.board.guard, probe=case.probe, symbols=symbols)
    return time.process_time() - began


def plain_s() -> float:
    """The same of a passive demo lane by independent symbols, the least of several."""
    board = shelf()
    case = Case(PLAIN, plan_of(board, next(one for one in board.lanes if one.name == PLAIN)), board, RECEIVER)
    return min(spent_s(case, Symbols.INDEPENDENT) for _ in range(5))


def main(count: int = 400, seed: int = 14_07, part: int = 0, parts: int = 1) -> int:
    """Print every lane that takes more than a third of what is allowed, and the ten dearest; 1 if one takes more."""
    warnings.simplefilter("ignore")
    found: list[tuple[float, str]] = []
    for case in (*of_demo(), *of_chance(count, seed))[part::parts]:
        for symbols in Symbols:
            times = spent_s(case, symbols) / plain_s()
            found.append((times, f"{case.told}, {symbols.value}"))
            if times > MOST_TIMES / 3.0:
                sys.stdout.write(f"{times:6.0f} times  {found[-1][1]}\n")
                sys.stdout.flush()
    sys.stdout.write(f"the dearest of {len(found)}:\n")
    for times, told in sorted(found, reverse=True)[:10]:
        sys.stdout.write(f"{times:6.0f} times  {told}\n")
    return int(max(found)[0] > MOST_TIMES)


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
