"""Small boards of one lane for tests of the engine: everything ideal unless a test says otherwise."""

from msgspec.structs import replace

from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.model import Board, Catalogue, Device, Lane, Run
from workbench.board.profile import Profile, ReceiverLimits, Sourced
from workbench.engine.assess import assess_board
from workbench.engine.assessment import LaneAssessment
from workbench.engine.lane.path import LanePlan, plan_lane
from workbench.parts.capacitor import Capacitor
from workbench.parts.conditioners.controls import Settings
from workbench.parts.conditioners.limiting import LimitingConditioner, SwingSetting
from workbench.parts.conditioners.linear import GainSetting, LinearConditioner
from workbench.parts.conditioners.zero_pole import EmphasisSetting, EqualizationSetting
from workbench.parts.connector import Connector
from workbench.parts.lines.cable import Cable
from workbench.parts.lines.dielectric import Dielectric
from workbench.parts.lines.line_by_loss import LineByLoss
from workbench.parts.receiver import Receiver
from workbench.parts.transmitter import Transmitter
from workbench.parts.via import Via

RATE_BPS = 5e9
UI_S = 1.0 / RATE_BPS

_SHARED = {
    "channels": 4,
    "bandwidth_hz": 8e9,
    "boost_frequency_hz": 2.5e9,
    "equalization": tuple(EqualizationSetting(setting=str(n), boost_db=4.0 * n) for n in range(4)),
    "emphasis": (
        EmphasisSetting(setting="off", deemphasis_db=0.0, duration_s=2e-10),
        EmphasisSetting(setting="on", deemphasis_db=6.0, duration_s=2e-10),
    ),
    "input_noise_v": 2e-3,
    "random_jitter_s": 5e-13,
    "deterministic_jitter_s": 4e-12,
    "latency_s": 1.2e-10,
}
LINEAR = LinearConditioner(name="linear", swing=(GainSetting(setting="unity", limit_v=2.0),), **_SHARED)
LIMITING = LimitingConditioner(name="limiting", swing=(SwingSetting(setting="unity", swing_v=0.8),), **_SHARED)


def invented_profile(**changes: object) -> Profile:
    """5 Gb/s, scrambled, no limits known; all invented."""
    where = {"source": "invented for tests", "status": "from memory"}
    plain = Profile(
        id="invented",
        title="Invented",
        revision="none",
        rate_bps=Sourced(value=RATE_BPS, **where),
        coding="scrambled",
        ber=Sourced(value=1e-12, **where),
        limits=ReceiverLimits(at="pins"),
    )
    return replace(plain, **changes)


def sourced(value: float) -> Sourced:
    return Sourced(value=value, source="invented for tests", status="from memory")


def trace(length_m: float, line: str = "trace") -> Run:
    return Run(line=line, length_m=length_m)


def catalogue(transmitter: dict, receiver: dict) -> Catalogue:
    """Ideal and lossy lines of 100 ohm, one part of each kind."""

    def line(name: str, conductor: float, dielectric: float, impedance_ohm: float = 100.0) -> LineByLoss:
        return LineByLoss(
            name=name, impedance_ohm=impedance_ohm, permittivity=3.9, frequency_hz=2.5e9,
            conductor_loss_db_per_m=conductor, dielectric_loss_db_per_m=dielectric,
        )  # fmt: skip

    return Catalogue(
        dielectrics=(Dielectric(name="laminate", permittivity=3.9, loss_tangent=0.011, frequency_hz=1e9),),
        lines=(line("trace", 0.0, 0.0), line("lossy", 7.0, 6.0), line("step", 7.0, 6.0, 80.0)),
        cables=(
            Cable(
                name="twinax", impedance_ohm=100.0, permittivity=2.1, frequency_hz=2.5e9, conductor_loss_db_per_m=2.6,
                dielectric_loss_db_per_m=0.4,
            ),
        ),
        vias=(
            Via(name="via", dielectric="laminate", drill_m=2.5e-4, pad_m=5e-4, antipad_m=8e-4, through_m=1e-3,
                stub_m=1e-4),
            Via(name="long stub", dielectric="laminate", drill_m=2.5e-4, pad_m=5e-4, antipad_m=8e-4, through_m=1e-3,
                stub_m=1.2e-2),
        ),
        connectors=(
            Connector(name="edge", impedance_ohm=92.0, delay_s=6e-11, loss_db=0.3, frequency_hz=2.5e9,
                      entry_capacitance_f=1e-13, exit_capacitance_f=1e-13),
        ),
        capacitors=(
            Capacitor(name="coupling", capacitance_f=1e-7, inductance_h=0.0, pad_capacitance_f=0.0),
            Capacitor(name="small", capacitance_f=1e-10, inductance_h=0.0, pad_capacitance_f=0.0),
        ),
        conditioners=(LINEAR, LIMITING),
        transmitters=(replace(Transmitter(name="host", swing_v=1.0, rise_time_s=4e-11), **transmitter),),
        receivers=(replace(Receiver(name="card"), **receiver),),
    )  # fmt: skip


def lane_board(
    path: tuple,
    *,
    transmitter: dict | None = None,
    receiver: dict | None = None,
    profile: Profile | None = None,
    part: str = "linear",
    equalization: str = "0",
    emphasis: str = "off",
) -> Board:
    """A board of one lane, D0, over `path`, with one device U1."""
    settings = Settings(equalization=equalization, swing="unity", emphasis=emphasis)
    own = profile if profile is not None else invented_profile()
    return Board(
        profile=own.id,
        profiles=(own,),
        catalogue=catalogue(transmitter or {}, receiver or {}),
        devices=(Device(ref="U1", part=part, settings=settings),),
        lanes=(Lane(name="D0", transmitter="host", receiver="card", path=path),),
    )


def assessed(board: Board, **options: object) -> LaneAssessment:
    """The board's first lane, assessed."""
    return assess_board(board, sha256="", **options).lanes[0]


def plan_of(board: Board) -> LanePlan:
    """The board's first lane, resolved."""
    lane = board.lanes[0]
    return plan_lane(Index(board), lane, profile_of(board, lane.profile or board.profile))
