"""A second opinion: a maker's model beside the program's own figures for the same part, in dB and in mV of eye.

The lane is assessed twice, once with the part as the board has it and once with the model in its place, and the model
is held against itself: its statistical eye beside bits sent through it one by one.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from msgspec.structs import replace

from workbench.arrays import Complexes, Floats
from workbench.board.edits.catalogue import add_entry
from workbench.board.edits.models import put_model
from workbench.board.index import index_of
from workbench.board.model import Board, Lane, Stage
from workbench.engine.assess import assess_board
from workbench.engine.lane.lane import observe, signal_at
from workbench.engine.lane.models.resolved import resolved
from workbench.engine.lane.path import LanePlan, plan_of
from workbench.engine.lane.probe import RECEIVER, resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.errors import StudyError
from workbench.parts.conditioners.by_model import ModelConditioner
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.conditioners.controls import Settings
from workbench.parts.conditioners.table import TableConditioner
from workbench.parts.model_use import ModelUse
from workbench.parts.transmitter import taps_gain
from workbench.waveform.running import run
from workbench.waveform.settings import WaveformSettings
from workbench.wording import any_of, quoted

_POINTS, _LOW, _HIGH = 17, 0.02, 1.0
_COUNTED_AT = 1e-3
"""Bits are counted at this error ratio: a few hundred thousand tell it within a per cent."""
_HEARD = 1e-3


Several = tuple[float, ...]


class GainBeside(NamedTuple):
    """Gains at some frequencies, dB: the model's, the program's own, and a data sheet's table; NaN where none is heard.

    Attributes:
        f_hz: Hz.
        model_db, own_db: as above.
        table_hz, table_db, model_at_table_db: the table's own points, where the part has one for its setting.
    """

    f_hz: Several
    model_db: Several
    own_db: Several
    table_hz: Several
    table_db: Several
    model_at_table_db: Several

    @property
    def apart_db(self) -> Several:
        """How far the model's gain lies above the program's own, dB."""
        return tuple(a - b for a, b in zip(self.model_db, self.own_db, strict=True))

    @property
    def table_apart_db(self) -> Several:
        """How far the model's gain lies above the table's, dB."""
        return tuple(a - b for a, b in zip(self.model_at_table_db, self.table_db, strict=True))


class EyeBeside(NamedTuple):
    """An eye's height in V and width in UI, at an error ratio."""

    height_v: float
    width_ui: float
    error_ratio: float


class SecondOpinion(NamedTuple):
    """What a model and the program's own figures say of one place of a lane.

    Attributes:
        lane, at: the lane, and where on it.
        gains: both responses.
        own, model: the statistical eye with either.
        model_again: the model's statistical eye at the error ratio that bits are counted at.
        counted: the same by bits sent through the model one by one; None where they were not sent.
    """

    lane: str
    at: str
    gains: GainBeside
    own: EyeBeside
    model: EyeBeside
    model_again: EyeBeside | None
    counted: EyeBeside | None

    @property
    def apart_v(self) -> float:
        """How much higher the eye of the model is than that of the program's own figures, V."""
        return self.model.height_v - self.own.height_v

    @property
    def apart_ui(self) -> float:
        """How much wider it is, UI."""
        return self.model.width_ui - self.own.width_ui

    @property
    def counted_apart_v(self) -> float | None:
        """How much higher the model's statistical eye is than that of bits, V; None where none were sent."""
        if self.model_again is None or self.counted is None:
            return None
        return self.model_again.height_v - self.counted.height_v

    @property
    def counted_apart_ui(self) -> float | None:
        """How much wider it is, UI; None where no bits were sent."""
        if self.model_again is None or self.counted is None:
            return None
        return self.model_again.width_ui - self.counted.width_ui


def second_opinion(
    board: Board,
    lane: str,
    at: str,
    use: ModelUse,
    *,
    bits: int = 200_000,
    memo: Memo | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> SecondOpinion:
    """A model beside the program's own figures.

    Args:
        board: the board.
        lane: one of its lanes.
        at: "transmitter", "receiver", or the reference of a device on the lane's path.
        use: the model, trusted.
        bits: how many are sent through the model; 0 for none.
        memo: a store of known results to use and fill.
        cancelled: asked while bits are sent.

    Raises:
        StudyError: there is no such lane or place, the stage there regenerates, the model was not run, or the bits are
            too few.
        ModelError: the model is not trusted, is refused, or gave no answer.
    """
    memo = memo if memo is not None else Memo()
    boards = _boards(board, _lane(board, lane), at, use)
    plans = [resolved(memo, plan_of(one, _lane(one, lane))) for one in boards]
    found = [assess_board(one, sha256="", lanes=(lane,), memo=memo).lanes[0] for one in boards]
    _require_run(memo, plans[1])
    eyes = [EyeBeside(one.eye.height_v, one.eye.width_ui, one.eye.ber) for one in found]
    gains = _gains(memo, board, plans, at)
    again = counted = None
    if bits:
        probe = resolve_probe(plans[1], RECEIVER)
        settings = WaveformSettings(bits=bits, error_ratio=_COUNTED_AT, corner_per_rate=0.0, pattern="random")
        measured = run(plans[1], probe, settings, None, cancelled, memo=memo).measures.openings[0]
        if measured.height_v is None or measured.width_ui is None:
            raise StudyError(f"{bits:,} bits are too few for an eye at {_COUNTED_AT:.0e}; send more, or none")
        counted = EyeBeside(measured.height_v, measured.width_ui, _COUNTED_AT)
        same = assess_board(
            boards[1], sha256="", lanes=(lane,), ber=_COUNTED_AT, symbols=Symbols.INDEPENDENT, memo=memo
        )  # fmt: skip
        again = EyeBeside(same.lanes[0].eye.height_v, same.lanes[0].eye.width_ui, _COUNTED_AT)
    return SecondOpinion(lane, at, gains, eyes[0], eyes[1], again, counted)


def _lane(board: Board, name: str) -> Lane:
    for lane in board.lanes:
        if lane.name == name:
            return lane
    raise StudyError(f"the board has no lane {quoted(name)}; it has {any_of(one.name for one in board.lanes)}")


def _require_run(memo: Memo, plan: LanePlan) -> None:
    """The model must have been run, or there is nothing to compare."""
    observed = observe(memo, plan, resolve_probe(plan, RECEIVER), plan.profile.ber.value)
    if observed.troubles:
        raise StudyError(observed.troubles[0])


def _boards(board: Board, lane: Lane, at: str, use: ModelUse) -> tuple[Board, Board]:
    """The board with its own figures at a place, and with the model there."""
    if at == "transmitter":
        own = put_model(board, "transmitter", lane.transmitter, None)
        return own, put_model(own, "transmitter", lane.transmitter, use)
    if at == "receiver":
        own = put_model(board, "receiver", lane.receiver, None)
        return own, put_model(own, "receiver", lane.receiver, use)
    channels = {element.device: element.channel for element in lane.path if isinstance(element, Stage)}
    refs = tuple(channels)
    if at not in refs:
        raise StudyError(
            f"lane {quoted(lane.name)} has no device {quoted(at)}; write transmitter, receiver"
            f"{', or ' + any_of(refs) if refs else ''}"
        )
    device = index_of(board).device(at)
    part = index_of(board).find(("conditioners",), device.part, Conditioner)
    if part.regenerates:
        raise StudyError(f"{at} is limiting, so it has no gain to compare a model with")
    name = _free_name(board, f"{part.name} by model")
    made = ModelConditioner(
        name=name, channels=part.channels, input_resistance_ohm=part.input_resistance_ohm,
        input_capacitance_f=part.input_capacitance_f, output_resistance_ohm=part.output_resistance_ohm,
        output_capacitance_f=part.output_capacitance_f, random_jitter_s=part.random_jitter_s,
        deterministic_jitter_s=part.deterministic_jitter_s, latency_s=part.latency_s, input_model=use,
        output_limit_v=part.limit_v(device.on_channel(channels[at]).only(part.control_names())),
    )  # fmt: skip
    changed = add_entry(board, "conditioners", made)
    devices = tuple(
        replace(one, part=name, settings=Settings(), channels=()) if one.ref == at else one for one in changed.devices
    )
    return board, replace(changed, devices=devices)


def _free_name(board: Board, name: str) -> str:
    taken = {entry.name for entry in board.catalogue.conditioners}
    return next(one for one in (name, *(f"{name} {n}" for n in range(2, 1000))) if one not in taken)


def _gains(memo: Memo, board: Board, plans: list[LanePlan], at: str) -> GainBeside:
    own, model = plans
    f_hz = np.geomspace(_LOW, _HIGH, _POINTS) / own.profile.ui_s
    table_hz: Floats = np.zeros(0)
    table_db: Floats = np.zeros(0)
    if at == "transmitter":
        taps = own.transmitter.taps()
        sent = model.by_models.sent if model.by_models is not None else None
        assert sent is not None
        pair = _db(sent.gain(f_hz)), _db(taps_gain(f_hz, ui_s=own.profile.ui_s, taps=taps))
        return _beside(f_hz, *pair)
    if at == "receiver":
        return _beside(f_hz, _received_db(memo, model, f_hz), _received_db(memo, own, f_hz))
    number = next(n for n, stage in enumerate(own.stages) if stage.ref == at)
    stages = own.stages[number], model.stages[number]
    part = stages[0].part
    if isinstance(part, TableConditioner):
        table_hz, table_db = part.table_of(stages[0].settings)
    at_table = _db(stages[1].transfer(table_hz)) if table_hz.size else np.zeros(0)
    return _beside(
        f_hz, _db(stages[1].transfer(f_hz)), _db(stages[0].transfer(f_hz)), table_hz, table_db, at_table
    )


def _beside(*some: Floats) -> GainBeside:
    """The gains as plain numbers; without a table of the part's where none is given."""
    numbers = [tuple(one.tolist()) for one in some]
    return GainBeside(*numbers, *[()] * (len(GainBeside._fields) - len(numbers)))


def _received_db(memo: Memo, plan: LanePlan, f_hz: Floats) -> Floats:
    """What stands between the receiver's pad and its decision, dB; NaN where hardly anything arrives."""
    probe = resolve_probe(plan, RECEIVER)
    received = observe(memo, plan, probe, plan.profile.ber.value).received
    axis = received.signal.axis
    before = signal_at(memo, plan, probe, axis).plain
    at = np.searchsorted(axis.f_hz, f_hz).clip(0, axis.f_hz.size - 1)
    heard = np.abs(before[at]) > _HEARD * np.abs(before).max()
    ratio = np.where(heard, received.signal.plain[at] / np.where(heard, before[at], 1.0), np.nan)
    return _db(np.where(f_hz <= axis.f_hz[-1], ratio, np.nan))


def _db(gain: Complexes) -> Floats:
    return np.asarray(20.0 * np.log10(np.maximum(np.abs(gain), 1e-9)))
