"""Boards of any size for the benchmarks, grown from the format's example."""

from pathlib import Path

from msgspec.structs import replace

from tests.lanes import invented_profile, lane_board, plan_of, trace
from workbench.board.library import starter_catalogues
from workbench.board.model import Board, Component, Lane, Run, Stage
from workbench.board.reading import read_board
from workbench.engine.lane.path import LanePlan
from workbench.parts.conditioners.controls import Settings
from workbench.parts.lines.microstrip import MicrostripPair

_EXAMPLE = Path(__file__).parent.parent / "board" / "format_example.json"


def conditioned(lanes: int) -> Board:
    """Lanes of different lengths, on two kinds of line, through one quad conditioner each four lanes."""
    example = read_board(_EXAMPLE.read_bytes()).board
    lane = example.lanes[0]
    # The example's strap over-equalizes these lengths; the middle one suits them.
    device = replace(example.devices[0], settings=Settings({**example.devices[0].settings, "equalization": "1"}))
    return replace(
        example,
        devices=tuple(replace(device, ref=f"U{n}") for n in range((lanes + 3) // 4)),
        lanes=tuple(_grown(lane, number) for number in range(lanes)),
    )


def passive_quiet() -> Board:
    """One passive lane with receiver noise but no jitter, its ends matched: what a general-purpose way can do."""
    example = read_board(_EXAMPLE.read_bytes()).board
    catalogue = replace(
        example.catalogue,
        transmitters=tuple(
            replace(t, random_jitter_s=0.0, deterministic_jitter_s=0.0, capacitance_f=0.0, deemphasis_db=0.0)
            for t in example.catalogue.transmitters
        ),
        receivers=tuple(
            replace(r, random_jitter_s=0.0, deterministic_jitter_s=0.0, capacitance_f=0.0)
            for r in example.catalogue.receivers
        ),
    )
    path = tuple(p for p in example.lanes[0].path if not isinstance(p, Stage))
    return replace(example, catalogue=catalogue, devices=(), lanes=(replace(example.lanes[0], path=path),))


def dragged(part: str, length_m: float) -> LanePlan:
    """A lane of two runs that lose 8 and 4 dB, without a conditioner between them, or with a linear or limiting one."""
    between = () if part == "passive" else (Stage(device="U1", channel=1),)
    path = (trace(length_m, "lossy"), Component(part="edge"), *between, trace(0.3, "lossy"))
    jitter = {"random_jitter_s": 1.5e-12, "deterministic_jitter_s": 1.5e-11}
    receiver = {"noise_v": 4e-3, "random_jitter_s": 1.5e-12, "deterministic_jitter_s": 6e-12}
    kind = "linear" if part == "passive" else part
    return plan_of(lane_board(path, transmitter=jitter, receiver=receiver, part=kind, equalization="2"))


def outer_lanes(count: int, part: str) -> Board:
    """Lanes over an outer layer with jitter and noise, none beside another; through a stage of a part, or "none"."""
    taken = starter_catalogues()["mid-loss-board"].catalogue
    line = next(one for one in taken.lines if isinstance(one, MicrostripPair))
    base = lane_board(
        (trace(0.2),), transmitter={"random_jitter_s": 1.5e-12, "deterministic_jitter_s": 1.5e-11},
        receiver={"noise_v": 4e-3, "random_jitter_s": 1.5e-12, "deterministic_jitter_s": 6e-12},
        profile=invented_profile(coding="8b/10b"), part="linear" if part == "none" else part, equalization="1",
    )  # fmt: skip
    catalogue = replace(
        base.catalogue, lines=(*base.catalogue.lines, line), foils=taken.foils,
        dielectrics=(*base.catalogue.dielectrics, *taken.dielectrics),
    )  # fmt: skip

    def path(number: int) -> tuple:
        first = Run(line=line.name, length_m=0.15 + 0.013 * number)
        if part == "none":
            return (first,)
        return (first, Stage(device=f"U{number // 4 + 1}", channel=number % 4 + 1), trace(0.1, "lossy"))

    lanes = tuple(replace(base.lanes[0], name=f"L{number}", path=path(number)) for number in range(count))
    devices = tuple(replace(base.devices[0], ref=f"U{number + 1}") for number in range((count + 3) // 4))
    return replace(base, catalogue=catalogue, lanes=lanes, devices=devices)


def with_last_run(board: Board, lane: int, length_m: float) -> Board:
    """The board with the last run of one lane changed."""
    lanes = list(board.lanes)
    path = list(lanes[lane].path)
    last = path[-1]
    assert isinstance(last, Run)
    path[-1] = replace(last, length_m=length_m)
    lanes[lane] = replace(lanes[lane], path=tuple(path))
    return replace(board, lanes=tuple(lanes))


def _grown(lane: Lane, number: int) -> Lane:
    def placed(element):
        match element:
            case Run():
                line = "L3" if number % 2 else element.line
                return replace(element, line=line, length_m=element.length_m * (1.0 + 0.013 * (number % 16)))
            case Stage():
                return replace(element, device=f"U{number // 4}", channel=number % 4 + 1)
            case _:
                return element

    return replace(lane, name=f"D{number}", path=tuple(placed(element) for element in lane.path))
