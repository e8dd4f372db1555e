"""Assessing a board: every lane's losses, pulse, eye, margin, verdict and findings."""

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor

import msgspec

from workbench import __version__
from workbench.board.model import Board, Guard, Lane
from workbench.engine.assessment import Assessment, EqualizerResult, Finding, LaneAssessment
from workbench.engine.lane.drive import driven_stages
from workbench.engine.lane.lane import observe, trained
from workbench.engine.lane.path import LanePlan, plan_of
from workbench.engine.lane.probe import RECEIVER, resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.verdict.beside import neighbour_findings
from workbench.engine.verdict.channel import channel_results
from workbench.engine.verdict.crosstalk import crosstalk_result
from workbench.engine.verdict.enough_gap import Question, enough_gap_m
from workbench.engine.verdict.findings import ReviewedLane, findings
from workbench.engine.verdict.margin import judge_lane
from workbench.engine.verdict.measures import (
    baseline_wander_v,
    eye_result,
    pulse_result,
    span_results,
)
from workbench.engine.verdict.shared import board_findings
from workbench.engine.verdict.skew import skew_results
from workbench.errors import WorkbenchError

Progress = Callable[[int, int], None]


def assess_board(
    board: Board,
    *,
    sha256: str,
    lanes: tuple[str, ...] | None = None,
    probe: str = RECEIVER,
    ber: float | None = None,
    symbols: Symbols = Symbols.CODED,
    progress: Progress | None = None,
    memo: Memo | None = None,
    threads: int | None = None,
) -> Assessment:
    """Assess a checked board.

    Args:
        board: a board that `check` found nothing wrong with.
        sha256: of the file's text, to be named in the result.
        lanes: names of the lanes wanted; None: all.
        probe: the probe point to measure at.
        ber: the error ratio to measure at; None: each profile's own.
        symbols: which symbols count.
        progress: called with (lanes done, lanes in all) after each lane.
        memo: a store of earlier results to use and fill.
        threads: how many lanes are assessed at a time; None: as many as there are cores. The result is the same.

    Raises:
        WorkbenchError: a wanted lane is not on the board.
        ProbePointError: a wanted lane has no such probe point.
    """
    memo = memo if memo is not None else Memo()
    wanted = _wanted(board, lanes)
    plans = [plan_of(board, lane) for lane in wanted]

    def assessed(lane: Lane, plan: LanePlan) -> LaneAssessment:
        return assess_lane(memo, plan, lane.length_m, board.guard, probe=probe, ber=ber, symbols=symbols)

    threads = usable_cores() if threads is None else threads
    done = _at_once(assessed, list(zip(wanted, plans, strict=True)), threads, progress)
    extra = board_findings(memo, plans, done)
    return Assessment(
        board=board.title,
        board_sha256=sha256,
        program=__version__,
        symbols=symbols.value,
        lanes=tuple(lane if not extra.get(lane.lane) else _with(lane, extra[lane.lane]) for lane in done),
    )


def _at_once(
    assessed: Callable[[Lane, LanePlan], LaneAssessment],
    lanes: list[tuple[Lane, LanePlan]],
    threads: int,
    progress: Progress | None,
) -> list[LaneAssessment]:
    """The lanes' assessments in their order; if one fails, what has not begun is not begun any more."""
    pool = ThreadPoolExecutor(max(min(threads, len(lanes)), 1))
    try:
        asked = [pool.submit(assessed, *lane) for lane in lanes]
        done: list[LaneAssessment] = []
        for one in asked:
            done.append(one.result())
            if progress is not None:
                progress(len(done), len(lanes))
        return done
    finally:
        pool.shutdown(cancel_futures=True)


def usable_cores() -> int:
    """How many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def assess_lane(
    memo: Memo,
    plan: LanePlan,
    length_m: float,
    guard: Guard,
    *,
    probe: str = RECEIVER,
    ber: float | None = None,
    symbols: Symbols = Symbols.CODED,
) -> LaneAssessment:
    """Assess one lane.

    Args:
        memo: the store of known results.
        plan: the lane, resolved.
        length_m: its routed length, m.
        guard: the board's guard bands.
        probe: the probe point to measure at.
        ber: the error ratio to measure at; None: the profile's own.
        symbols: which symbols count.
    """
    best_preset = plan.transmitter.taps_from == "best-preset"
    plan, preset = trained(memo, plan)
    error_ratio = plan.profile.ber.value if ber is None else ber
    observed = observe(memo, plan, resolve_probe(plan, probe), error_ratio, symbols=symbols)
    spans = span_results(memo, plan)
    eye = eye_result(observed, error_ratio)
    judged = judge_lane(memo, plan, observed, eye, guard)
    channel, skew = channel_results(memo, plan), skew_results(memo, plan)
    crosstalk = crosstalk_result(memo, plan, observed, eye)
    if crosstalk is not None:
        question = Question(probe, error_ratio, symbols, guard, judged.limits.height_v or 0.0)
        enough_m = enough_gap_m(memo, plan, observed, crosstalk, eye=eye, question=question)
        crosstalk = msgspec.structs.replace(crosstalk, enough_gap_m=enough_m)
    wander_v = baseline_wander_v(plan, observed, error_ratio)
    driven = tuple(driven_stages(memo, plan, observed))
    return LaneAssessment(
        lane=plan.name,
        profile=plan.profile.id,
        rate_bps=plan.profile.rate_bps.value,
        nyquist_hz=plan.profile.nyquist_hz,
        length_m=length_m,
        loss_db=sum(span.loss_db for span in spans),
        spans=spans,
        delay_s=sum(span.delay_s for span in spans) + sum(stage.delay_s for stage in plan.stages),
        pulse=pulse_result(observed, eye.center_s),
        eye=eye,
        equalizer=EqualizerResult(
            ctle_dc_gain_db=observed.received.dc_gain_db,
            dfe_taps_v=tuple(observed.received.taps_v.tolist()),
            preset=preset,
        ),
        baseline_wander_v=wander_v,
        limits=judged.limits,
        margin=judged.margin,
        findings=(
            *findings(ReviewedLane(memo, plan, observed, eye, spans, wander_v, driven, channel, best_preset, skew)),
            *neighbour_findings(plan, observed, eye, crosstalk, judged.limits.height_v),
        ),
        channel=channel,
        crosstalk=crosstalk,
        skew=skew,
    )


def _wanted(board: Board, names: Iterable[str] | None) -> list[Lane]:
    if names is None:
        return list(board.lanes)
    by_name = {lane.name: lane for lane in board.lanes}
    missing = [name for name in names if name not in by_name]
    if missing:
        raise WorkbenchError(f"the board has no lane {missing[0]!r}; its lanes are {', '.join(by_name) or 'none'}")
    return [by_name[name] for name in names]


def _with(lane: LaneAssessment, more: tuple[Finding, ...]) -> LaneAssessment:
    return msgspec.structs.replace(lane, findings=(*lane.findings, *more))
