"""A receiver's model on the signal that arrives: the response goes in, what comes out is decided on."""

import hashlib
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.engine.lane.filtering import Filtering, LastDecided
from workbench.engine.lane.grid import SAMPLES_PER_UI, Grid
from workbench.engine.lane.models.opened import KEPT_SENTENCES, Trouble, opened, trouble_of
from workbench.engine.lane.path import LanePlan
from workbench.engine.lane.signal import Signal
from workbench.engine.lane.waves import LEAD_UI
from workbench.engine.memo import Memo
from workbench.errors import ModelError
from workbench.makers.flows import Answered, Model, through_init
from workbench.makers.stated import StatedByModel, stated_by
from workbench.parts.model_use import ModelUse
from workbench.parts.receiver import NOISE_BAND_PER_RATE

RECEIVES_INSTEAD = "its stated equalizer and decision feedback are used instead"
_SMALL = 1e-6
"""Area of the impulse that tells a receiver's linear part, over the lane's own: too small to be weighed."""


class Decided(NamedTuple):
    """What a receiver's model makes of a signal: the signal after it, what the model states and says, and how it is
    made up; None of a model that was taken as it was last."""

    signal: Signal
    stated: StatedByModel
    sentences: tuple[str, ...]
    last: LastDecided | None = None


def decided(memo: Memo, plan: LanePlan, signal: Signal) -> Decided | Trouble | None:
    """The signal after the receiver's model; None where there is none, the trouble where it gives no answer.

    Args:
        memo: the store of known results.
        plan: the lane, resolved.
        signal: what stands at the receiver's pad; its axis must be a grid.
    """
    use, by_models = plan.receiver.model, plan.by_models
    if use is None or by_models is None or by_models.decides == "nothing":
        return None
    if by_models.decides == "last":
        assert by_models.last is not None
        return Decided(_as_last(signal, by_models.last), StatedByModel(), ())
    model = opened(memo, use)
    if isinstance(model, Trouble):
        return model
    columns = _columns(signal, _most_aggressors(model))
    key = ("model decided", model.key, plan.profile.ui_s, hashlib.sha256(columns.tobytes()).digest())
    found = memo.get(key, lambda: _received(model, columns, plan.profile.ui_s))
    if isinstance(found, Trouble):
        return found
    answer, gain = found
    made = _after_model(signal, answer.responses[0], gain)
    memo.keep(last_key(use), made.last)
    stated = stated_by(model.ami, "receiver", bit_time_s=plan.profile.ui_s, told=answer.told, corner=use.corner)
    said = (*answer.sentences, *(f"{plan.receiver.name}: {sentence}" for sentence in stated.sentences))
    return Decided(_with_noise(made.signal, stated.noise_v), stated, said[:KEPT_SENTENCES], made.last)


def last_key(use: ModelUse) -> tuple[str, str, str]:
    """Under what a model's last answer is kept."""
    return "model decided, the last", use.library_sha256, use.ami_sha256


def _most_aggressors(model: Model) -> int:
    most = model.ami.value("Max_Init_Aggressors")
    return max(int(most), 0) if isinstance(most, (int, float)) else 0


def response_of(signal: Signal) -> Floats:
    """The response to a whole transition, V/s, from `LEAD_UI` before its flight's end on, shape (samples,)."""
    grid = signal.axis
    assert isinstance(grid, Grid)
    return _response(np.roll(grid.time_response(signal.tapped), LEAD_UI * grid.samples_per_ui), grid)


def _response(pulse_v: Floats, grid: Grid) -> Floats:
    """Twice the pulse, since that is of half the swing, summed over all earlier symbols, by differences."""
    step_v = pulse_v.reshape(grid.window_ui, grid.samples_per_ui).cumsum(axis=0).ravel()
    return np.asarray(2.0 * np.diff(step_v, prepend=0.0) / grid.dt_s)


def _pulse(response: Floats, grid: Grid) -> Floats:
    """The way back: the pulse of half the swing, V, shape (samples,), its lead still in it."""
    step_v = 0.5 * grid.dt_s * np.cumsum(response)
    pulse_v = step_v.copy()
    pulse_v[grid.samples_per_ui :] -= step_v[: -grid.samples_per_ui]
    return pulse_v


def _columns(signal: Signal, most: int) -> Floats:
    """What the model gets: the lane's response, its neighbours' as far as there is room, a small unit impulse."""
    grid = signal.axis
    assert isinstance(grid, Grid)
    own = response_of(signal)
    columns = [own]
    if most:
        alike = [one for one in signal.strangers if one.ui_s == grid.ui_s][: most - 1]
        late = LEAD_UI * grid.samples_per_ui
        columns += [_response(np.roll(grid.time_response(one.spectrum), late), grid) for one in alike]
        impulse = np.zeros(grid.samples)
        impulse[0] = _SMALL * _area_v(own, grid.dt_s) / grid.dt_s
        columns.append(impulse)
    return np.stack(columns)


def _area_v(response: Floats, dt_s: float) -> float:
    return abs(float(response.sum()) * dt_s) or 1.0


def _received(model: Model, columns: Floats, ui_s: float) -> tuple[Answered, Filtering] | Trouble:
    """The model's answer, and its linear part."""
    dt_s = ui_s / SAMPLES_PER_UI
    try:
        answer = through_init(model, columns, sample_interval_s=dt_s, bit_time_s=ui_s)
        if len(columns) > 1:
            return answer, Filtering.of(answer.responses[-1] * dt_s / (columns[-1, 0] * dt_s), dt_s)
        # It takes no aggressors: what it does to an impulse as large as the lane's response has to serve.
        impulse = np.zeros_like(columns)
        impulse[0, 0] = _area_v(columns[0], dt_s) / dt_s
        alone = through_init(model, impulse, sample_interval_s=dt_s, bit_time_s=ui_s)
        return answer, Filtering.of(alone.responses[0] / impulse[0, 0], dt_s)
    except ModelError as error:
        return trouble_of(error)


class _Made(NamedTuple):
    signal: Signal
    last: LastDecided


def _after_model(signal: Signal, response: Floats, gain: Filtering) -> _Made:
    """The signal after a model that made such a response, V/s, shape (samples,), of it."""
    grid = signal.axis
    assert isinstance(grid, Grid)
    through = signal.through(gain.gain(grid.f_hz))
    pulse_v = np.roll(_pulse(response, grid), -LEAD_UI * grid.samples_per_ui)
    beside = pulse_v - grid.time_response(through.tapped)
    tapped = np.fft.rfft(pulse_v * grid.dt_s)[: grid.points]
    return _Made(through._replace(tapped=tapped, plain=through.plain), LastDecided(gain, beside.tobytes()))


def _as_last(signal: Signal, last: LastDecided) -> Signal:
    """The signal after a model as it was when it was last run."""
    grid = signal.axis
    assert isinstance(grid, Grid)
    through = signal.through(last.gain.gain(grid.f_hz))
    beside = np.frombuffer(last.beside, np.float64)
    if beside.size != grid.samples:
        return through
    return through._replace(tapped=through.tapped + np.fft.rfft(beside * grid.dt_s)[: grid.points])


def _with_noise(signal: Signal, noise_v: float) -> Signal:
    """With noise at the decision, V rms, white in the band that a receiver's noise is stated in."""
    if noise_v == 0.0:
        return signal
    grid = signal.axis
    assert isinstance(grid, Grid)
    band_hz = NOISE_BAND_PER_RATE / grid.ui_s
    return signal._replace(noise=signal.noise + np.where(grid.f_hz <= band_hz, noise_v**2 / band_hz, 0.0))
