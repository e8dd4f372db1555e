"""Questions of routing that neighbours raise, answered here: ``python -m tests.reference.sent.routing_questions``.

The figures of the manual's section on neighbours come from here, and `test_routing_questions.py` holds it to them. All
boards are invented: 5 Gb/s, 1 V, 0.25 m of pairs on one layer between a transmitter and a receiver of 4 mV noise.
"""

import sys

from msgspec.structs import replace

from tests.lanes import lane_board, trace
from workbench.board.edits.bundles import lay_side_by_side
from workbench.board.model import Board, Run, Stage
from workbench.engine.assess import assess_board
from workbench.parts.lines.dielectric import Dielectric
from workbench.parts.lines.foil import Foil, Smooth
from workbench.parts.lines.microstrip import MicrostripPair
from workbench.parts.lines.stripline import StriplinePair

INNER = StriplinePair(
    name="inner", dielectric="laminate", foil="smooth", width_m=1.1e-4, gap_m=1.6e-4, thickness_m=1.7e-5,
    below_m=1.5e-4, above_m=1.5e-4,
)  # fmt: skip
OUTER = MicrostripPair(
    name="outer", dielectric="laminate", foil="smooth", width_m=1.5e-4, gap_m=1.7e-4, thickness_m=4e-5, height_m=1e-4
)
LENGTH_M = 0.25


def side_by_side(line: str, *, lanes: int, gap_m: float, against: tuple[int, ...] = ()) -> Board:
    """Equal lanes on a layer, some running against the others."""
    base = lane_board((trace(LENGTH_M),), receiver={"noise_v": 4e-3})
    foil = Foil(name="smooth", conductivity_s_per_m=5.8e7, roughness=Smooth())
    laminate = Dielectric(name="laminate", permittivity=3.9, loss_tangent=0.011, frequency_hz=1e9)
    catalogue = replace(
        base.catalogue, lines=(*base.catalogue.lines, INNER, OUTER), foils=(foil,), dielectrics=(laminate,)
    )
    path = (Run(line=line, length_m=LENGTH_M),)
    rows = tuple(replace(base.lanes[0], name=f"L{n}", path=path) for n in range(lanes))
    board = lay_side_by_side(replace(base, catalogue=catalogue, lanes=rows), line, gap_m=gap_m)
    running = tuple(f"L{n}" for n in against)
    return replace(board, bundles=(replace(board.bundles[0], against=running),))


def lost_mv(board: Board) -> float:
    """The most height that any lane loses to its neighbours, mV."""
    found = assess_board(board, sha256="").lanes
    return max(1e3 * (one.crosstalk.height_v_without - one.eye.height_v) for one in found if one.crosstalk)


def interleaved_and_grouped() -> dict[str, tuple[float, float]]:
    """Eight lanes, four each way: height lost where they alternate, and where each way keeps together, mV."""
    return {
        line: (
            lost_mv(side_by_side(line, lanes=8, gap_m=3e-4, against=(1, 3, 5, 7))),
            lost_mv(side_by_side(line, lanes=8, gap_m=3e-4, against=(4, 5, 6, 7))),
        )
        for line in ("inner", "outer")
    }


def gaps() -> dict[str, dict[float, float]]:
    """Three lanes one way on the outer layer, and alternating on the inner one, by the gap in mm: height lost, mV."""
    return {
        "outer, along": {gap: lost_mv(side_by_side("outer", lanes=3, gap_m=gap * 1e-3)) for gap in (0.3, 0.5, 0.8)},
        "inner, against": {
            gap: lost_mv(side_by_side("inner", lanes=3, gap_m=gap * 1e-3, against=(1,))) for gap in (0.2, 0.3, 0.5)
        },
    }


def before_and_after() -> dict[str, float]:
    """0.2 m beside a neighbour on the outer layer and 0.5 m alone, a limiting stage between the two or before both.

    The eye's height at the receiver, mV: with the stage after the noisy stretch and before it, each without
    neighbours and with them.
    """
    found: dict[str, float] = {}
    for name, noisy_first in (("after", True), ("before", False)):
        board = side_by_side("outer", lanes=2, gap_m=2.5e-4)
        noisy = replace(board.lanes[0].path[0], length_m=0.2)
        stage = Stage(device="U1", channel=1)
        quiet = trace(0.5, "lossy")
        path = (noisy, stage, quiet) if noisy_first else (quiet, stage, noisy)
        lanes = tuple(
            replace(lane, path=tuple(replace(one, channel=n) if isinstance(one, Stage) else one for one in path))
            for n, lane in enumerate(board.lanes, start=1)
        )
        settings = board.devices[0].settings | {"equalization": "1"}
        device = replace(board.devices[0], part="limiting", settings=settings)
        lane = assess_board(replace(board, lanes=lanes, devices=(device,)), sha256="").lanes[0]
        found[f"{name}, alone"] = 1e3 * lane.crosstalk.height_v_without
        found[f"{name}, beside"] = 1e3 * lane.eye.height_v
    return found


if __name__ == "__main__":
    for answer in (interleaved_and_grouped(), gaps(), before_and_after()):
        sys.stdout.write(f"{answer}\n")
