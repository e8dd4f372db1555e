"""A lane with one of its evils taken away: what a budget compares it with.

What is made ideal and how:

- ``loss``: no line, cable, connector or laminate loses anything, and copper conducts without resistance. What a
  measured network loses stays: its data can't be parted.
- ``reflections``: every element is matched to the reference impedance and so reflects nothing, keeping what it lets
  through by itself; ends have no capacitance.
- ``via stubs``: every via is as if drilled out from the back.
- ``random jitter``, ``deterministic jitter``: of transmitter, conditioners and receiver. What loss and reflections do
  to edges is theirs.
- ``noise``: of conditioners and receiver.
- ``neighbours``: no other lane lies beside this one.
- ``pair skew``: both legs of every run and fixture are alike. What a measured network's legs differ by stays.
- ``equalization``: every device of the lane at the setting that is best for this lane.
"""

import math
from collections.abc import Sequence
from itertools import product

import numpy as np
from msgspec.structs import replace

from workbench.arrays import Floats
from workbench.board.edits.changes import Controls, changed
from workbench.board.index import section_names
from workbench.board.model import Board
from workbench.engine.lane.path import LanePlan, Span, Terminal
from workbench.engine.lane.path_element import PathElement
from workbench.parts.imperfections import DETERMINISTIC, LOSS, NOISE, RANDOM, REFLECTIONS, STUBS
from workbench.parts.record import ComponentRecord, Parts, Record, RunRecord
from workbench.parts.twoport import REFERENCE_OHM, LineConstants, TwoPort, line, propagation, s_parameters
from workbench.studies.figures import LaneFigures
from workbench.studies.pool.jobs import Assessor
from workbench.studies.setting_search.settings import DeviceChoices, lane_choices

EQUALIZATION, NEIGHBOURS, SKEW = "equalization", "neighbours", "pair skew"
STEPS = (LOSS, REFLECTIONS, STUBS, DETERMINISTIC, RANDOM, NOISE, SKEW, NEIGHBOURS, EQUALIZATION)
"""The order in which a budget takes things away."""

MOST_SETTINGS = 256
"""Up to so many joint settings of a lane's devices are all tried; of more, one device after another."""


class MatchedElement(ComponentRecord, kw_only=True):
    """An element that reflects nothing: a line of the reference impedance that lets through what the element does.

    Attributes:
        inner: the element itself.
        length_m: its length in m where it is a run.
        nyquist_hz: where its time of flight is taken, Hz.
    """

    inner: RunRecord | ComponentRecord
    length_m: float | None
    nyquist_hz: float

    def chain_matrix(self, f_hz: Floats, parts: Parts) -> TwoPort:
        """The two-port at `f_hz` (Hz, shape (n,)) with the element's transmission between matched ends."""
        return _matched(_two_port(self.inner, self.length_m, f_hz, parts, fast=False))

    def fast_matrix(self, f_hz: Floats, parts: Parts) -> TwoPort:
        """The same as a pulse sees it, at `f_hz` (Hz, shape (n,))."""
        return _matched(_two_port(self.inner, self.length_m, f_hz, parts, fast=True))

    def flight_time_s(self, parts: Parts) -> float:
        """The element's time of flight in s."""
        if isinstance(self.inner, ComponentRecord):
            return self.inner.flight_time_s(parts)
        constants = self.inner.line_constants(np.array([self.nyquist_hz]), parts)
        gamma = np.sqrt(constants.z_ohm_per_m * constants.y_s_per_m)
        return abs(float(gamma.imag[0])) * (self.length_m or 0.0) / (2.0 * math.pi * self.nyquist_hz)

    def corner_hz(self, loop_ohm: float) -> float | None:
        """The element's high-pass corner in Hz with `loop_ohm` (ohm) around it."""
        return self.inner.corner_hz(loop_ohm) if isinstance(self.inner, ComponentRecord) else None


def _two_port(
    record: RunRecord | ComponentRecord, length_m: float | None, f_hz: Floats, parts: Parts, *, fast: bool
) -> TwoPort:
    if isinstance(record, ComponentRecord):
        return record.fast_matrix(f_hz, parts) if fast else record.chain_matrix(f_hz, parts)
    return line(record.line_constants(f_hz, parts), length_m or 0.0)


def _matched(two_port: TwoPort) -> TwoPort:
    """A matched two-port of the same s21: ``[[c, Z s], [s / Z, c]]`` with c +- s = 1 / s21 and s21."""
    s21 = s_parameters(two_port).s21
    # The large factor is taken out: c = (1 + s21^2) / (2 s21), s = (1 - s21^2) / (2 s21).
    size = np.maximum(np.abs(s21), np.finfo(float).tiny)
    phase = np.where(s21 == 0.0, 1.0, s21 / size)
    cosine, sine = (1.0 + s21**2) / (2.0 * phase), (1.0 - s21**2) / (2.0 * phase)
    chain = np.array([[cosine, REFERENCE_OHM * sine], [sine / REFERENCE_OHM, cosine]])
    return TwoPort(chain, -np.log(size))


def without(board: Board, steps: frozenset[str]) -> Board:
    """The board with what the catalogue can say of some steps made ideal; it is for computing, never for a file."""
    catalogue = board.catalogue
    sections = {name: tuple(_idealized(one, steps) for one in getattr(catalogue, name)) for name in section_names()}
    return replace(board, catalogue=replace(catalogue, **sections))


def _idealized(entry: Record, steps: frozenset[str]) -> Record:
    for step in steps:
        entry = entry.idealized(step)
    return entry


def refined(steps: frozenset[str], plan: LanePlan) -> LanePlan:
    """A lane's plan with every element matched, where reflections are taken away, and alone, where neighbours are."""
    if NEIGHBOURS in steps:
        plan = replace(plan, neighbours=())
    if SKEW in steps:
        even = (replace(span, elements=tuple(map(_even, span.elements))) for span in plan.spans)
        plan = replace(plan, spans=tuple(even))
    if REFLECTIONS not in steps:
        return plan
    matched = Terminal(REFERENCE_OHM, 0.0)
    beside = {(one.span, one.element) for one in plan.neighbours if one.along is not None}

    def in_place_of(number: int, span: Span) -> Span:
        elements = tuple(
            _beside(one) if (number, at) in beside else _element(one, plan.profile.nyquist_hz)
            for at, one in enumerate(span.elements)
        )
        return Span(span.from_, span.to, matched, elements, matched)

    return replace(plan, spans=tuple(in_place_of(number, span) for number, span in enumerate(plan.spans)))


def _even(element: PathElement) -> PathElement:
    return replace(element, skew_s=0.0, mismatch_m=0.0) if element.skew_s or element.mismatch_m else element


class MatchedLine(RunRecord, kw_only=True):
    """A line of the reference impedance that loses and delays what another one does, and couples as that does."""

    inner: RunRecord

    def line_constants(self, f_hz: Floats, parts: Parts) -> LineConstants:
        """Its constants per metre at `f_hz` (Hz, shape (n,))."""
        gamma = propagation(self.inner.line_constants(f_hz, parts)).gamma_per_m
        return LineConstants(gamma * REFERENCE_OHM, gamma / REFERENCE_OHM)


def _beside(element: PathElement) -> PathElement:
    inner = element.record
    assert isinstance(inner, RunRecord)
    return replace(element, record=MatchedLine(name=str(getattr(inner, "name", "")), inner=inner))


def _element(element: PathElement, nyquist_hz: float) -> PathElement:
    inner = element.record
    name = str(getattr(inner, "name", ""))
    matched = MatchedElement(name=name, inner=inner, length_m=element.length_m, nyquist_hz=nyquist_hz)
    skew_s = element.skew_s
    if element.mismatch_m and element.length_m:
        skew_s += element.mismatch_m * matched.flight_time_s(element.parts) / element.length_m
    return replace(element, record=matched, length_m=None, skew_s=skew_s, mismatch_m=0.0)


def ideal_figures(assessor: Assessor, lane: str, steps: frozenset[str]) -> LaneFigures:
    """A lane's figures with some steps taken away; raises Stopped where the study is cancelled."""
    board = without(assessor.basis.board, steps)

    def figures(variant: Board) -> LaneFigures:
        return assessor.figures(variant, (lane,), refine=lambda plan: refined(steps, plan))[0]

    if EQUALIZATION not in steps:
        return figures(board)
    best = figures(board)
    for choices in _choices(lane_choices(board, lane)):
        for one in choices:
            best = max(best, figures(changed(board, one)), key=lambda found: found.margin_guards)
    return best


def _choices(devices: Sequence[DeviceChoices]) -> list[list[tuple[Controls, ...]]]:
    """What settings to try: all joint ones, or of so many devices each by itself."""
    own = [[device.change(settings) for settings in device.combinations] for device in devices]
    if math.prod(map(len, own)) <= MOST_SETTINGS:
        return [list(product(*own))] if own else []
    return [[(one,) for one in some] for some in own]


def settings_tried(board: Board, lane: str) -> int:
    """How many settings `ideal_figures` tries for a lane's equalization; 0 for a lane without devices."""
    return sum(len(choices) for choices in _choices(lane_choices(board, lane)))

