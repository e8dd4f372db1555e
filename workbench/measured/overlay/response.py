"""A measurement beside the lane's own curve: aligned, with the difference in figures."""

from typing import NamedTuple

import numpy as np
from msgspec.structs import replace

from workbench.arrays import Bools, Floats, decibels
from workbench.board.edits.checked import lane_number
from workbench.board.measurement import (
    MeasuredEye,
    MeasuredResponse,
    MeasuredStep,
    MeasuredWaveform,
    Measurement,
    changed_since,
)
from workbench.board.model import Board
from workbench.engine.lane.lane import observe
from workbench.engine.lane.path import LanePlan, plan_of
from workbench.engine.lane.probe import Probe, resolve_probe
from workbench.engine.lane.reflection import impedance_profile
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.tails.eye import EyeReach
from workbench.engine.views import LaneView, view_lane
from workbench.errors import TableError
from workbench.measured.overlay.alignment import Alignment, SampledCurve, aligned, common, difference_of
from workbench.measured.overlay.figures import AS_MEASURED, Overlay, OverlayFigure
from workbench.measured.overlay.fold import NRZ
from workbench.measured.overlay.stretch import (
    Between,
    elements_between,
    stretch_s_parameters,
    words_of_elements,
)
from workbench.measured.overlay.waveform import waveform_overlay
from workbench.wording import quoted

_ALIGNED_SHARE = 0.9
_RAREST, _COMMONEST = 1e-15, 1e-3
_PULSE_FLOOR = 1e-4


def beside_board(memo: Memo, board: Board, measurement: Measurement) -> Overlay:
    """A measurement beside its lane of a board; it raises what `beside_lane` does.

    Args:
        memo: the store of known results.
        board: the board.
        measurement: of one of its lanes.

    Raises:
        EditError: the board has no such lane.
    """
    lane = board.lanes[lane_number(board, measurement.lane)]
    plan = plan_of(board, lane)
    return beside_lane(memo, plan, measurement)


def beside_lane(
    memo: Memo, plan: LanePlan, measurement: Measurement, symbols: Symbols = Symbols.CODED
) -> Overlay:
    """A measurement beside the lane that it belongs to, at its own probe point and error ratio.

    Args:
        memo: the store of known results.
        plan: the lane.
        measurement: of this lane.
        symbols: which symbols count in the model's eye.

    Raises:
        ProbePointError: the lane has no such probe point or places.
        TableError: the two have nothing in common to compare.
        EngineError: the engine can't compute the lane.
    """
    if isinstance(measurement, MeasuredResponse) and measurement.first:
        return _beside_stretch(plan, measurement)
    probe = resolve_probe(plan, measurement.probe)
    ratio = plan.profile.ber.value
    if isinstance(measurement, MeasuredEye) and measurement.ber is not None:
        ratio = measurement.ber
    if isinstance(measurement, MeasuredWaveform):
        return _beside_waveform(memo, plan, probe, measurement, symbols)
    view = view_lane(memo, plan, probe, ratio, symbols=symbols)
    if isinstance(measurement, MeasuredStep) and measurement.quantity != "transmitted":
        # A stage lets no reflection back: only the span after the probe is seen.
        view = view._replace(profile=impedance_profile(memo, replace(plan, spans=plan.spans[probe.span :][:1])))
    return beside(view, measurement)


def _beside_waveform(
    memo: Memo, plan: LanePlan, probe: Probe, measured: MeasuredWaveform, counted: Symbols
) -> Overlay:
    """With the whole pulse, and the model's eye at one error in as many symbols as were measured."""
    many = max(float(measured.times_s()[-1] - measured.times_s()[0]) / plan.profile.ui_s, 1.0)
    ratio = float(np.clip(1.0 / many, _RAREST, _COMMONEST))
    view = view_lane(memo, plan, probe, ratio, symbols=counted)
    waves = observe(memo, plan, probe, ratio, reach=EyeReach.ALL, symbols=counted).received.waves
    time_ui = (np.arange(waves.pulse_v.size) - waves.crossing) / waves.grid.samples_per_ui
    loud = np.nonzero(np.abs(waves.pulse_v) > _PULSE_FLOOR * waves.pulse_v.max())[0]
    kept = slice(int(loud[0]), int(loud[-1]) + 1)
    whole = view.pulse._replace(time_ui=time_ui[kept], pulse_v=waves.pulse_v[kept])
    over = waveform_overlay(view._replace(pulse=whole), measured, plan.profile.levels)
    note = f"eye figures: seen in the measured symbols, and modelled at a BER of {ratio:.1e}"
    return over._replace(notes=(*over.notes, note))


def beside(view: LaneView, measurement: Measurement, *, levels: tuple[float, ...] = NRZ) -> Overlay:
    """A measurement beside curves that are known already.

    Args:
        view: the lane at the measurement's probe point; a response between two places needs `beside_lane`, and a
            waveform is better there, where the whole pulse is known.
        measurement: of this lane.
        levels: the symbol levels of a waveform.

    Raises:
        TableError: the two have nothing in common to compare.
    """
    match measurement:
        case MeasuredResponse():
            return _beside_response(view, measurement)
        case MeasuredStep(quantity="transmitted"):
            return _beside_transmitted(view, measurement)
        case MeasuredStep():
            return _beside_profile(view, measurement)
        case MeasuredEye():
            return _beside_eye(view, measurement)
        case MeasuredWaveform():
            return waveform_overlay(view, measurement, levels)


def _beside_stretch(plan: LanePlan, measured: MeasuredResponse) -> Overlay:
    f_hz = measured.frequencies_hz()
    inside = f_hz > 0.0
    elements = elements_between(plan, Between(measured.first, measured.last))
    s = stretch_s_parameters(elements, f_hz[inside], measured.reference_ohm)
    model = np.abs(s.s21 if measured.parameter == "transmission" else s.s11)
    where = f"elements {measured.first} to {measured.last}"
    over = _response_overlay(measured, where, inside, decibels(model), plan.profile.nyquist_hz)
    changed = changed_since(measured, words_of_elements(elements))
    return over._replace(notes=(*over.notes, changed)) if changed else over


def _beside_response(view: LaneView, measured: MeasuredResponse) -> Overlay:
    f_hz = measured.frequencies_hz()
    known = view.response
    inside = (f_hz >= known.f_hz[0]) & (f_hz <= known.f_hz[-1])
    if not inside.any():
        raise _nothing_common(measured, f"the lane's own curve ends at {known.f_hz[-1]:.3g} Hz")
    model_db = known.gain_db if measured.parameter == "transmission" else -known.return_db
    at = np.asarray(np.interp(f_hz[inside], known.f_hz, model_db))
    return _response_overlay(measured, view.probe, inside, at, view.nyquist_hz)


def _response_overlay(
    measured: MeasuredResponse, where: str, inside: Bools, model_db: Floats, nyquist_hz: float
) -> Overlay:
    f_hz = measured.frequencies_hz()[inside]
    if not f_hz.size:
        raise _nothing_common(measured, "it has no frequency above 0 Hz")
    sign = 1.0 if measured.parameter == "transmission" else -1.0
    y_measured = sign * decibels(np.abs(measured.values()[inside]))
    y_model = sign * model_db
    figures: tuple[OverlayFigure, ...] = ()
    if f_hz[0] <= nyquist_hz <= f_hz[-1]:
        both = [float(np.interp(nyquist_hz, f_hz, y)) for y in (y_measured, y_model)]
        figures = (OverlayFigure("at Nyquist", "dB", *both),)
    left_out = int((~inside).sum())
    notes = (f"{left_out} of {measured.points} frequencies lie beyond the model's",) if left_out else ()
    return Overlay(
        name=measured.name,
        probe=where,
        x_label="frequency",
        x_unit="Hz",
        y_label="transmission" if measured.parameter == "transmission" else "return loss",
        y_unit="dB",
        x=f_hz,
        y_measured=y_measured,
        y_model=y_model,
        alignment=AS_MEASURED,
        difference=difference_of(f_hz, y_measured, y_model),
        figures=figures,
        notes=notes,
    )


def _beside_profile(view: LaneView, measured: MeasuredStep) -> Overlay:
    """Impedance along the path: times one way, the reflection turned to ohm."""
    x = measured.times_s() / (2.0 if measured.round_trip else 1.0)
    y = measured.curve()
    notes = ["the model's edge lasts a fifth of a unit interval; a slower one on the bench blurs what is short"]
    if measured.quantity == "reflection":
        kept = np.clip(y, -0.95, 0.95)
        if (kept != y).any():
            notes.append("a reflection beyond 0.95 was taken as 0.95")
        y = measured.reference_ohm * (1.0 + kept) / (1.0 - kept)
    model = SampledCurve(view.profile.delay_s, view.profile.impedance_ohm)
    # What stands after the lane on the bench, an open end say, would lead the alignment: the last part stays out.
    kept_to = int(_ALIGNED_SHARE * model.x.size)
    bench = SampledCurve(x, np.minimum(y, 2.0 * float(model.y.max())))
    found = aligned(SampledCurve(model.x[:kept_to], model.y[:kept_to]), bench, level=False)
    return _in_time(measured, view.probe, _Pair(model, SampledCurve(x, y), found), notes)


def _beside_transmitted(view: LaneView, measured: MeasuredStep) -> Overlay:
    """The step that arrives; its height on the bench is another generator's, so the level is aligned too."""
    model, bench = step_of(view), SampledCurve(measured.times_s(), measured.curve())
    notes = ["the level is aligned: the bench's step has another height than the lane's transmitter"]
    return _in_time(measured, view.probe, _Pair(model, bench, aligned(model, bench, level=True)), notes)


def step_of(view: LaneView) -> SampledCurve:
    """The voltage in V at the probe point as a long run of symbols -1 turns into one of +1, over time in s."""
    time_s = view.pulse.time_ui * view.ui_s
    pulse = view.pulse.pulse_v
    step = np.zeros_like(pulse)
    shift = 0.0
    while shift < view.pulse.time_ui[-1] - view.pulse.time_ui[0]:
        step += np.interp(view.pulse.time_ui - shift, view.pulse.time_ui, pulse, left=0.0)
        shift += 1.0
    return SampledCurve(time_s, np.asarray(2.0 * step - step[-1]))


def _beside_eye(view: LaneView, measured: MeasuredEye) -> Overlay:
    figures = []
    if measured.height_v is not None:
        figures.append(OverlayFigure("eye height", "V", measured.height_v, view.eye.height_v))
    if measured.width_ui is not None:
        figures.append(OverlayFigure("eye width", "UI", measured.width_ui, view.eye.width_ui))
    nothing: Floats = np.zeros(0)
    return Overlay(
        name=measured.name, probe=view.probe, x_label="", x_unit="", y_label="eye", y_unit="", x=nothing,
        y_measured=nothing, y_model=nothing, alignment=AS_MEASURED, difference=None, figures=tuple(figures), notes=(),
    )  # fmt: skip


class _Pair(NamedTuple):
    model: SampledCurve
    bench: SampledCurve
    found: Alignment


def _in_time(measured: MeasuredStep, probe: str, pair: _Pair, notes: list[str]) -> Overlay:
    model, bench, found = pair
    inside = common(model.x, bench.x, found.delay_s)
    if int(inside.sum()) < 2:
        raise _nothing_common(measured, "no time of it falls on the lane")
    x = bench.x[inside] - found.delay_s
    y_measured = (bench.y[inside] - found.offset) / found.gain
    y_model = np.asarray(np.interp(x, model.x, model.y))
    is_step = measured.quantity == "transmitted"
    return Overlay(
        name=measured.name, probe=probe, x_label="time", x_unit="s", y_label="step" if is_step else "impedance",
        y_unit="V" if is_step else "ohm", x=x, y_measured=y_measured, y_model=y_model, alignment=found,
        difference=difference_of(x, y_measured, y_model), figures=(), notes=tuple(notes),
    )  # fmt: skip


def _nothing_common(measured: Measurement, why: str) -> TableError:
    problem = f"the measurement can't be overlaid on the lane: {why}"
    return TableError(quoted(measured.name), None, problem, "check its probe point, units and range")
