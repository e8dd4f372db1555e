"""The statistical eye against bits counted one by one, lane by lane: ``python -m tests.reference.sent.agreement``.

Prints the table of DEVELOPERS.md as Markdown. The lanes are invented. The clock is fixed, since the statistical eye
knows none; each lane sends independent random bits, or with ``--coded`` random data in 8b/10b, and the statistical eye
counts the same.
"""

import argparse
import sys
import time
from typing import NamedTuple

import numpy as np
from msgspec.structs import replace

from tests.lanes import LINEAR, lane_board, plan_of, sourced, trace
from tests.reference.neighbours.coupled_lines import lines_by_modes, many_pairs
from workbench.board.model import Board, Bundle, Component, Device, Run, Stage
from workbench.codes.eight_ten import EightTen
from workbench.engine.lane.lane import observe
from workbench.engine.lane.path import LanePlan
from workbench.engine.lane.path import plan_of as plan_at
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.verdict.measures import eye_result
from workbench.parts.conditioners.controls import Settings
from workbench.parts.conditioners.linear import GainSetting
from workbench.parts.crosstalk import CrosstalkLevel
from workbench.parts.lines.coupling import LevelCoupling, Ratios
from workbench.parts.receiver import Ctle, Dfe
from workbench.waveform.result import WaveformMeasures
from workbench.waveform.running import run
from workbench.waveform.settings import WaveformSettings

JITTER = {"random_jitter_s": 1.5e-12, "deterministic_jitter_s": 1.5e-11}
NOISE = {"noise_v": 4e-3, "random_jitter_s": 1.5e-12, "deterministic_jitter_s": 6e-12}
FIRST, SECOND = Stage(device="U1", channel=1), Stage(device="U2", channel=1)
EDGE, STUB = Component(part="edge"), Component(part="long stub")
CTLE = Ctle(first_pole_hz=2.5e9, second_pole_hz=7e9, dc_gain_db=(-3.0,))
"""One gain: the best of several depends on the error ratio, and a table has more than one."""
_WIDE = replace(LINEAR, swing=(GainSetting(setting="unity", limit_v=10.0),))


def lossy(length_m: float) -> Run:
    return trace(length_m, "lossy")


def _lane(path: tuple, *, transmitter: dict | None = None, receiver: dict | None = None, **stage: str) -> Board:
    return lane_board(
        path, transmitter={**JITTER, **(transmitter or {})}, receiver={**NOISE, **(receiver or {})}, **stage
    )


def _with_part(board: Board, part: object) -> Board:
    """The board with another catalogue entry of the same name."""
    others = tuple(part if one.name == part.name else one for one in board.catalogue.conditioners)
    return replace(board, catalogue=replace(board.catalogue, conditioners=others))


def _with_second(board: Board, part: str, equalization: str) -> Board:
    """The board with a second device, U2."""
    settings = Settings(equalization=equalization, swing="unity", emphasis="off")
    return replace(board, devices=(*board.devices, Device(ref="U2", part=part, settings=settings)))


def boards() -> dict[str, Board]:
    """The lanes of the table, each a board."""
    limiting = {"part": "limiting"}
    return {
        "passive, short": _lane((lossy(0.1),)),
        "passive, long": _lane((lossy(0.4), EDGE, lossy(0.25)), transmitter={"deemphasis_db": 3.5}),
        "pre-shoot and de-emphasis": _lane(
            (lossy(0.5), EDGE, lossy(0.3)), transmitter={"deemphasis_db": 6.0, "preshoot_db": 3.5}
        ),
        "linear stage": _with_part(_lane((lossy(0.4), EDGE, FIRST, lossy(0.3)), equalization="2"), _WIDE),
        "linear stage, compressed": _lane((lossy(0.4), EDGE, FIRST, lossy(0.3)), equalization="2"),
        "limiting stage, well set": _lane((lossy(0.6), EDGE, FIRST, lossy(0.3)), equalization="2", **limiting),
        "limiting stage, too little boost": _lane(
            (lossy(0.6), EDGE, FIRST, lossy(0.4)), equalization="0", **limiting
        ),
        "limiting stage, too much boost": _lane((lossy(0.2), EDGE, FIRST, lossy(0.3)), equalization="3", **limiting),
        "two limiting stages": _with_second(
            _lane((lossy(0.4), FIRST, lossy(0.4), SECOND, lossy(0.3)), equalization="1", **limiting), "limiting", "1"
        ),
        "linear, then limiting stage": _with_part(
            _with_second(_lane((lossy(0.4), FIRST, lossy(0.4), SECOND, lossy(0.3)), equalization="1"), "limiting", "1"),
            _WIDE,
        ),
        "reflective, via stubs": _lane((lossy(0.15), STUB, trace(0.1, "step"), lossy(0.1))),
        "cable of 5 m": _lane((Run(line="twinax", length_m=5.0),), transmitter={"deemphasis_db": 6.0}),
        "CTLE and decision feedback": _lane(
            (lossy(1.1),), receiver={"equalizer": CTLE, "dfe": Dfe(taps=2), "noise_v": 2e-3}
        ),
        "heavy jitter": _lane(
            (lossy(0.3),), transmitter={"random_jitter_s": 5e-12, "deterministic_jitter_s": 4e-11}
        ),
        "nearly closed": _lane((lossy(0.95),)),
    }


def _beside(
    board: Board, lanes: int, *, next_db: float = 200.0, fext_db: float = 200.0, at: int = 0, **bundle: object
) -> Board:
    """The board's lane so many times, one run of each side by side; the levels hold at 2.5 GHz over 0.2 m."""
    level = LevelCoupling(name="near", next_db=next_db, fext_db=fext_db, frequency_hz=2.5e9, length_m=0.2)
    path = tuple(replace(one, bundle="bundle") if n == at else one for n, one in enumerate(board.lanes[0].path))
    return replace(
        board, lanes=tuple(replace(board.lanes[0], name=f"D{n}", path=path) for n in range(lanes)),
        catalogue=replace(board.catalogue, couplings=(level,)),
        bundles=(Bundle(name="bundle", coupling="near", **bundle),),
    )  # fmt: skip


def neighboured() -> dict[str, tuple[Board, str]]:
    """Boards of lanes with neighbours, and which lane is looked at.

    At a fixed phase the statistical eye has every neighbour where it harms most, at each of the eye's phases; bits are
    sent with it where it harms the middle most. So heights must agree, while the statistical width is the lesser one.
    """
    limiting = _lane((lossy(0.6), EDGE, FIRST, lossy(0.3)), equalization="2", part="limiting")
    after = _lane((lossy(0.3), EDGE, FIRST, lossy(0.6)), equalization="2", part="limiting")
    fast = replace(_lane((lossy(0.4),)).profiles[0], id="faster", rate_bps=sourced(6.4e9))
    two_rates = _beside(_lane((lossy(0.4),)), 2, fext_db=32.0, alignment="asynchronous")
    other = replace(two_rates.lanes[1], profile="faster", transmitter="louder")
    louder = replace(two_rates.catalogue.transmitters[0], name="louder", swing_v=1.2)
    catalogue = replace(two_rates.catalogue, transmitters=(*two_rates.catalogue.transmitters, louder))
    return {
        "one neighbour along": (_beside(_lane((lossy(0.4),)), 2, fext_db=30.0), "D0"),
        "two neighbours along": (_beside(_lane((lossy(0.4),)), 3, fext_db=32.0), "D1"),
        "one against": (_beside(_lane((lossy(0.4),)), 2, next_db=30.0, against=("D1",)), "D0"),
        "another clock": (_beside(_lane((lossy(0.4),)), 2, fext_db=30.0, alignment="asynchronous"), "D0"),
        "another rate and swing": (
            replace(two_rates, lanes=(two_rates.lanes[0], other), profiles=(*two_rates.profiles, fast),
                    catalogue=catalogue), "D0",
        ),
        "before a linear stage": (
            _with_part(_beside(_lane((lossy(0.4), EDGE, FIRST, lossy(0.3)), equalization="1"), 2, fext_db=32.0), _WIDE),
            "D0",
        ),
        "before a limiting stage": (_beside(limiting, 2, fext_db=28.0), "D0"),
        "after a limiting stage": (_beside(after, 2, fext_db=34.0, at=3), "D0"),
        "through a connector, along": (_through(_lane((lossy(0.2), EDGE, lossy(0.2))), 3, fext_db=34.0), "D1"),
        "through a connector, against": (
            _through(_lane((lossy(0.3), EDGE, lossy(0.1))), 2, next_db=28.0, against=("D1",)), "D0"
        ),
        "through a network of two pairs": (_packed(_lane((lossy(0.2), EDGE, lossy(0.15)))), "D0"),
    }  # fmt: skip


def _through(board: Board, lanes: int, *, next_db: float = 200.0, fext_db: float = 200.0, **bundle: object) -> Board:
    """The board's lane so many times through the connector together, whose levels hold at 2.5 GHz."""
    levels = (CrosstalkLevel(frequency_hz=2.5e9, next_db=next_db, fext_db=fext_db),)
    edge = replace(board.catalogue.connectors[0], crosstalk=levels)
    path = tuple(replace(one, bundle="row") if one == EDGE else one for one in board.lanes[0].path)
    return replace(
        board, lanes=tuple(replace(board.lanes[0], name=f"D{n}", path=path) for n in range(lanes)),
        catalogue=replace(board.catalogue, connectors=(edge,)), bundles=(Bundle(name="row", **bundle),),
    )  # fmt: skip


def _packed(board: Board) -> Board:
    """The board's lane twice through an eight-port of two coupled lines in place of the connector."""
    f_hz = np.arange(801) * 2.5e7
    network = many_pairs(lines_by_modes(Ratios(0.04, 0.01), f_hz), f_hz=f_hz)
    lanes = tuple(
        replace(board.lanes[0], name=f"D{n}", path=tuple(
            Component(part="packed", way=n + 1, bundle="J") if one == EDGE else one for one in board.lanes[0].path
        ))
        for n in range(2)
    )  # fmt: skip
    return replace(
        board, lanes=lanes, bundles=(Bundle(name="J"),), catalogue=replace(board.catalogue, networks=(network,))
    )


def plan_in(board: Board, name: str) -> LanePlan:
    """One of a board's lanes, resolved."""
    return plan_at(board, next(lane for lane in board.lanes if lane.name == name))


class Agreement(NamedTuple):
    """Both engines on one lane at one error ratio: V and UI, with counting's standard errors."""

    name: str
    error_ratio: float
    height_v: float
    height_error_v: float
    statistical_height_v: float
    width_ui: float
    width_error_ui: float
    statistical_width_ui: float
    swing_v: float

    @property
    def height_agrees(self) -> bool:
        """Within 2 % of the swing or three standard errors."""
        allowed = max(0.02 * self.swing_v, 3.0 * self.height_error_v)
        return abs(self.height_v - self.statistical_height_v) <= allowed

    @property
    def width_agrees(self) -> bool:
        """Within 0.02 UI or three standard errors."""
        return abs(self.width_ui - self.statistical_width_ui) <= max(0.02, 3.0 * self.width_error_ui)


def compared(
    name: str,
    plan: LanePlan,
    *,
    bits: int,
    ratios: tuple[float, ...],
    seed: int = 1,
    symbols: Symbols = Symbols.INDEPENDENT,
) -> tuple[list[Agreement], WaveformMeasures]:
    """One lane by both engines: with random bits, or with random data in 8b/10b."""
    coded = symbols is Symbols.CODED
    plan = replace(plan, profile=replace(plan.profile, coding="8b/10b" if coded else plan.profile.coding))
    memo, probe = Memo(), resolve_probe(plan, "receiver")
    settings = WaveformSettings(
        pattern=EightTen.word if coded else "random", bits=bits, seed=seed, error_ratio=ratios[0],
        also_at=ratios[1:], corner_per_rate=0.0,
    )  # fmt: skip
    measures = run(plan, probe, settings, memo=memo).measures
    rows = []
    for ratio in ratios:
        seen = measures.opening("counted", ratio)
        assert seen is not None
        assert seen.height_v is not None
        assert seen.width_ui is not None
        ideal = eye_result(observe(memo, plan, probe, ratio, symbols=symbols), ratio, worst=False)
        rows.append(
            Agreement(
                name, ratio, seen.height_v, seen.height_error_v or 0.0, ideal.height_v, seen.width_ui,
                seen.width_error_ui or 0.0, ideal.width_ui, measures.swing_v,
            )
        )  # fmt: skip
    return rows, measures


def table_row(row: Agreement) -> str:
    verdict = "yes" if row.height_agrees and row.width_agrees else "**no**"
    difference = 100.0 * (row.statistical_height_v - row.height_v) / row.swing_v
    return (
        f"| {row.name} | {row.error_ratio:.0e} | {1e3 * row.height_v:.1f} ± {1e3 * row.height_error_v:.1f} "
        f"| {1e3 * row.statistical_height_v:.1f} | {difference:+.1f} | {row.width_ui:.3f} ± {row.width_error_ui:.3f} "
        f"| {row.statistical_width_ui:.3f} | {row.statistical_width_ui - row.width_ui:+.3f} | {verdict} |"
    )


HEAD = """\
| lane | error ratio | counted height, mV | statistical, mV | difference, % of swing | counted width, UI \
| statistical, UI | difference, UI | agree |
| --- | --- | --- | --- | --- | --- | --- | --- | --- |"""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bits", type=float, default=1e7)
    parser.add_argument("--ratios", type=float, nargs="+", default=[1e-4, 1e-5])
    parser.add_argument("--lane", nargs="+", default=None)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--coded", action="store_true", help="random data in 8b/10b instead of random bits")
    parser.add_argument("--beside", action="store_true", help="the lanes with neighbours instead")
    asked = parser.parse_args()
    sys.stdout.write(HEAD + "\n")
    alone = {name: plan_of(board) for name, board in boards().items()}
    beside = {name: plan_in(*board) for name, board in neighboured().items()}
    for name, plan in (beside if asked.beside else alone).items():
        if asked.lane and not any(word in name for word in asked.lane):
            continue
        started = time.perf_counter()
        rows, measures = compared(
            name, plan, bits=int(asked.bits), ratios=tuple(asked.ratios), seed=asked.seed,
            symbols=Symbols.CODED if asked.coded else Symbols.INDEPENDENT,
        )
        for row in rows:
            sys.stdout.write(table_row(row) + "\n")
        sys.stdout.flush()
        sys.stderr.write(
            f"{name}: {time.perf_counter() - started:.1f} s, {measures.errors.errors} errors, sampled at "
            f"{measures.sampling_ui:.3f} UI\n"
        )


if __name__ == "__main__":
    main()
