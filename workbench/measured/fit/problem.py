"""The least squares problem of a fit: what the model gives for every measured response, as the free values change."""

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import msgspec
import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.board.edits.checked import lane_number
from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.measurement import MeasuredResponse, changed_since
from workbench.board.model import COMPONENT_SECTIONS, Board
from workbench.engine.lane.path import plan_lane
from workbench.engine.lane.path_element import PathElement
from workbench.errors import FitError
from workbench.measured.fit.fields import Field
from workbench.measured.overlay.stretch import (
    element_matrix,
    elements_between,
    places_of,
    stretch_s_parameters,
    words_of_elements,
)
from workbench.measured.touchstone.repair_fixture import NEXT_TO_NOTHING
from workbench.parts.record import ComponentRecord, Parts, Record, RunRecord
from workbench.parts.twoport import SParameters, TwoPort
from workbench.quantity import show
from workbench.wording import instead, quoted

_LOST_RAD = 0.7
"""A model whose phase is off by more is fitted first at low frequencies: beyond half a turn it would fit another."""
_STAGES = (1.0 / 32.0, 1.0 / 16.0, 1.0 / 8.0, 1.0 / 4.0, 1.0 / 2.0)
_CLOSE, _ROUGH = 1e-10, 1e-3

Entries = dict[tuple[str, str], Record]
"""Catalogue entries by section and name."""
Seen = dict[tuple[tuple[PathElement, ...], bytes, float], SParameters]
"""Networks by their elements, frequencies and reference."""


class Fixtures(NamedTuple):
    """Fixtures (probe, test board, cable) between the probes and the lane: names of catalogue entries in the signal's
    order, before and after the measured places."""

    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()


NO_FIXTURES = Fixtures()


class _Data(NamedTuple):
    """One response: the elements between its probes, its frequencies, what was measured there, and what is doubtful."""

    elements: tuple[PathElement, ...]
    f_hz: Floats
    values: Complexes
    response: MeasuredResponse
    doubts: tuple[str, ...]


class FitProblem:
    """Residuals as a function of the free values, each over its own scale."""

    def __init__(
        self, board: Board, measured: Sequence[MeasuredResponse], fields: tuple[Field, ...], fixtures: Fixtures,
        watch: Callable[[], None] | None = None,
    ) -> None:  # fmt: skip
        self.fields = fields
        self._watch = watch
        self._entries: Entries = {
            (field.section, field.entry): entry
            for field in fields
            for entry in getattr(board.catalogue, field.section)
            if entry.name == field.entry
        }
        index = Index(board)
        self._data = tuple(_data(board, index, response, fixtures) for response in measured)
        self._known: dict[tuple[bytes, PathElement], TwoPort] = {}
        self.doubts = tuple(dict.fromkeys(doubt for data in self._data for doubt in data.doubts))
        self._refuse_idle()
        self.scale = np.array([abs(field.value) or min(1.0, field.upper - field.lower) for field in fields])
        self.start = np.array([min(max(field.value, field.lower), field.upper) for field in fields])
        self.points = self.residuals(self.start).size
        if self.points <= len(fields):
            raise FitError(
                f"{self.points} measured numbers can't tell {len(fields)} values; fit fewer values or give more data"
            )

    def residuals(self, values: Floats, up_to: float = 1.0) -> Floats:
        """Model minus measured, real parts then imaginary ones, up to a share of each response's band: shape (n,)."""
        if self._watch is not None:
            self._watch()
        changed = self._changed(values)
        parts = []
        seen: Seen = {}
        for data in self._data:
            kept = data.f_hz <= up_to * data.f_hz[-1]
            model = self._model(data, changed, data.f_hz[kept], seen)
            if data.response.has_phase:
                apart = model - data.values[kept]
                parts += [apart.real, apart.imag]
            else:
                parts.append(np.abs(model) - np.abs(data.values[kept]))
        every: Floats = np.concatenate(parts)
        # A value at which the model breaks down is a bad one, not an error.
        return np.nan_to_num(every, nan=1e3, posinf=1e3, neginf=-1e3)

    def solved(self) -> tuple[Floats, Floats, Floats]:
        """The best values, the Jacobian by them, shape (points, values), and the residuals there."""
        values = self.start
        if self._is_lost(values):
            for share in _STAGES:
                if self.residuals(values, share).size > 2 * len(self.fields):
                    values = self._least(values, share)[0]
        return self._least(values, 1.0)

    def _least(self, values: Floats, share: float) -> tuple[Floats, Floats, Floats]:
        from scipy.optimize import least_squares  # noqa: PLC0415 - slow to load, and only a fit needs it

        bounds = [np.array([getattr(field, end) for field in self.fields]) / self.scale for end in ("lower", "upper")]
        solution: Any = least_squares(
            lambda scaled: self.residuals(scaled * self.scale, share),
            np.clip(values / self.scale, *bounds),
            bounds=bounds,
            x_scale="jac",
            xtol=_CLOSE if share == 1.0 else _ROUGH,
            ftol=_CLOSE if share == 1.0 else _ROUGH,
            gtol=None,
        )
        return solution.x * self.scale, solution.jac / self.scale, solution.fun

    def _is_lost(self, values: Floats) -> bool:
        changed = self._changed(values)
        for data in self._data:
            if data.response.has_phase and data.response.parameter == "transmission":
                turned = np.angle(self._model(data, changed, data.f_hz, {}) * np.conj(data.values))
                if float(np.abs(np.unwrap(turned)).max()) > _LOST_RAD:
                    return True
        return False

    def _changed(self, values: Floats) -> Entries:
        """The entries with the values put into them, by section and name."""
        changed = dict(self._entries)
        for field, value in zip(self.fields, values.tolist(), strict=True):
            key = (field.section, field.entry)
            changed[key] = field.put(changed[key], value)
        return changed

    def _model(self, data: _Data, changed: Entries, f_hz: Floats, seen: Seen) -> Complexes:
        """What the model gives for a response; `seen` holds the networks of this evaluation."""
        grid = f_hz.tobytes()
        key = (data.elements, grid, data.response.reference_ohm)
        if key not in seen:
            elements = tuple(_with_entries(element, changed) for element in data.elements)
            # Elements that no free value reaches are computed once.
            pairs = zip(elements, data.elements, strict=True)
            fixed = {new: self._two_port((grid, new), f_hz) for new, old in pairs if new is old}
            seen[key] = stretch_s_parameters(elements, f_hz, data.response.reference_ohm, fixed)
        return seen[key].s21 if data.response.parameter == "transmission" else seen[key].s11

    def _two_port(self, key: tuple[bytes, PathElement], f_hz: Floats) -> TwoPort:
        if key not in self._known:
            self._known[key] = element_matrix(key[1], f_hz)
        return self._known[key]

    def _refuse_idle(self) -> None:
        """Refuse a value that nothing between the probes is made of."""
        used = {(type(record).section, record.name) for data in self._data for record in _records_in(data.elements)}
        for field in self.fields:
            if (field.section, field.entry) not in used:
                raise FitError(
                    f"{quoted(field.path)}: nothing between the probes is made of {quoted(field.entry)}; "
                    "choose values of what was measured"
                )


def _records_in(elements: Sequence[PathElement]) -> list[Any]:
    return [record for e in elements for record in (e.record, *(part for _, part in e.parts.by_field))]


def _with_entries(element: PathElement, changed: Entries) -> PathElement:
    """The element with changed entries in their places; itself where none is among them."""
    record = changed.get((type(element.record).section or "", element.record.name))
    by_field = tuple(
        (field, changed.get((type(part).section or "", _name(part)), part)) for field, part in element.parts.by_field
    )
    same = all(new is old for (_, new), (_, old) in zip(by_field, element.parts.by_field, strict=True))
    if record is None and same:
        return element
    assert record is None or isinstance(record, (RunRecord, ComponentRecord))
    return msgspec.structs.replace(element, record=record or element.record, parts=Parts(by_field))


def _name(record: Record) -> str:
    name: str = record.name  # type: ignore[attr-defined]  # every kind that stands in a section has one
    return name


def _data(board: Board, index: Index, response: MeasuredResponse, fixtures: Fixtures) -> _Data:
    lane = board.lanes[lane_number(board, response.lane)]
    plan = plan_lane(index, lane, profile_of(board, lane.profile or board.profile))
    own = elements_between(plan, places_of(plan, response))
    before, after = (_fixture_elements(index, names) for names in fixtures)
    f_hz = response.frequencies_hz()
    kept = f_hz > 0.0
    doubts = [changed_since(response, words_of_elements(own))]
    doubts += [_faint(element, f_hz[kept], response.reference_ohm) for element in (*before, *after)]
    elements = (*before, *own, *after)
    return _Data(elements, f_hz[kept], response.values()[kept], response, tuple(filter(None, doubts)))


def _faint(fixture: PathElement, f_hz: Floats, reference_ohm: float) -> str | None:
    """The sentence for a fixture after which next to nothing of the lane is heard."""
    passed = np.abs(stretch_s_parameters((fixture,), f_hz, reference_ohm).s21)
    count = int((passed < NEXT_TO_NOTHING).sum())
    if not count:
        return None
    least = f"{passed.min():.2g} at {show(float(f_hz[passed.argmin()]), 'Hz')}"
    return (
        f"the fixture {fixture.record.name} lets through {least}, less than {NEXT_TO_NOTHING:g} at {count} of "
        f"{f_hz.size} points: what was measured there says next to nothing of the lane"
    )


def _fixture_elements(index: Index, names: Sequence[str]) -> list[PathElement]:
    found = []
    for name in names:
        if name not in index.names(COMPONENT_SECTIONS):
            remedy = instead(name, tuple(index.names(COMPONENT_SECTIONS)), "add it to the catalogue first")
            raise FitError(f"there is no fixture {quoted(name)}; {remedy}")
        record = index.component(name)
        found.append(PathElement(record, index.parts_of(record)))
    return found
