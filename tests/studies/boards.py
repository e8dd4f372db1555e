"""Small boards for the studies, invented: short lanes on small grids, one or two devices."""

from msgspec.structs import replace

from tests.lanes import catalogue, invented_profile
from workbench.board.model import Board, Component, Device, Guard, Lane, Run, Stage
from workbench.board.profile import ReceiverLimits, Sourced
from workbench.parts.conditioners.controls import Settings

HEIGHT_V, WIDTH_UI = 0.12, 0.4


def limited_profile(id: str = "invented", **changes: object):
    """The invented profile with limits."""
    where = {"source": "invented for tests", "status": "from memory"}
    limits = ReceiverLimits(
        at="pins", height_v=Sourced(value=HEIGHT_V, **where), width_ui=Sourced(value=WIDTH_UI, **where)
    )
    return invented_profile(id=id, limits=limits, **changes)


def run(length_m: float, line: str = "lossy") -> Run:
    return Run(line=line, length_m=length_m)


def through(ref: str, channel: int, before_m: float, after_m: float) -> tuple:
    """A lossy run, a stage, a connector, a lossy run."""
    return (run(before_m), Stage(device=ref, channel=channel), run(after_m), Component(part="edge"), run(0.02))


def device(ref: str, part: str = "linear", equalization: str = "1") -> Device:
    return Device(ref=ref, part=part, settings=Settings(equalization=equalization, swing="unity", emphasis="off"))


def section(part: str = "linear") -> Board:
    """Two lanes through U1, one through U1 and U2, one through U3, one without a device; U9 has no lane."""
    own = limited_profile()
    receiver = {"noise_v": 1.5e-3, "random_jitter_s": 1e-12, "deterministic_jitter_s": 5e-12}
    transmitter = {"random_jitter_s": 1.5e-12, "deterministic_jitter_s": 1.2e-11, "deemphasis_db": 3.5}

    def lane(name: str, path: tuple) -> Lane:
        return Lane(name=name, transmitter="host", receiver="card", path=path)

    return Board(
        title="Correlator shelf",
        profile=own.id,
        profiles=(own,),
        guard=Guard(height_v=0.01, width_ui=0.03),
        catalogue=catalogue(transmitter, receiver),
        devices=tuple(device(ref, part) for ref in ("U1", "U2", "U3", "U9")),
        lanes=(
            lane("D0", through("U1", 1, 0.25, 0.30)),
            lane("D1", through("U1", 2, 0.35, 0.45)),
            lane("D2", (run(0.3), Stage(device="U1", channel=3), run(0.3), Stage(device="U2", channel=1), run(0.5))),
            lane("D3", through("U3", 1, 0.5, 0.2)),
            lane("D4", (run(0.3), Component(part="edge"), run(0.25))),
        ),
    )


def with_lanes(board: Board, *names: str) -> Board:
    """The board with only some of its lanes."""
    return replace(board, lanes=tuple(lane for lane in board.lanes if lane.name in names))


def with_few_settings(board: Board) -> Board:
    """The board with conditioners of two equalizer positions and one emphasis position."""
    parts = tuple(
        replace(part, equalization=part.equalization[1:3], emphasis=part.emphasis[:1])
        for part in board.catalogue.conditioners
    )
    return replace(board, catalogue=replace(board.catalogue, conditioners=parts))
