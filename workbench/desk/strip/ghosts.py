"""The runs beside a lane's own, as the path strip shows them: where, how strong, which way; no widget."""

import logging
import math
from typing import NamedTuple

from workbench.board.model import Board, Lane, Stage, in_bundle
from workbench.engine.lane.path import LanePlan, Neighbour, plan_of
from workbench.errors import PHYSICS_FAILS
from workbench.parts.lines.coupling import SpacingCoupling
from workbench.quantity import show

_LOG = logging.getLogger(__name__)
_NEAREST_PX, _FURTHEST_PX, _PAST_PART_PX = 11.0, 17.0, 19.0
_NARROW_M, _WIDE_M = 1e-4, 2e-3
_FAINT_DB, _STRONG_DB = 80.0, 20.0
_THIN_PX, _THICK_PX = 0.8, 3.4
GRIP_PX = 4.0


class Ghost(NamedTuple):
    """A neighbour's run beside one of the lane's own, or its way through the same part.

    Attributes:
        at: the lane's own run or part, by its number on the path.
        lane, bundle: whose it is, and in which bundle the two lie.
        side: -1 on the upper side of the lane's own run, 1 on the lower.
        begin, end: where it lies along the lane's own run, as shares of that.
        against: whether its signal runs against the lane's.
        gap_m: from pair to pair, m; None where levels tell the coupling.
        part: whether both pass a part, whose symbol it is drawn past.
        level_db: how far what it adds at the run's end lies below its own level, at Nyquist.
    """

    at: int
    lane: str
    bundle: str
    side: int
    begin: float
    end: float
    against: bool
    gap_m: float | None
    level_db: float
    part: bool = False

    @property
    def off_px(self) -> float:
        """How far from the middle of the lane's own run it is drawn, px: further out for a wider gap."""
        if self.part:
            return self.side * _PAST_PART_PX
        gap_m = _NARROW_M if self.gap_m is None else min(max(self.gap_m, _NARROW_M), _WIDE_M)
        share = math.log(gap_m / _NARROW_M) / math.log(_WIDE_M / _NARROW_M)
        return self.side * (_NEAREST_PX + (_FURTHEST_PX - _NEAREST_PX) * share)

    @property
    def stroke_px(self) -> float:
        """How thick it is drawn, px: the stronger the thicker."""
        share = (_FAINT_DB - min(max(self.level_db, _STRONG_DB), _FAINT_DB)) / (_FAINT_DB - _STRONG_DB)
        return _THIN_PX + (_THICK_PX - _THIN_PX) * share

    def words(self) -> str:
        """What it is, as a part of a sentence."""
        gap = "" if self.gap_m is None else f" at {show(self.gap_m, 'm')}"
        way = " against it" if self.against else ""
        level = f"{self.level_db:.0f} dB" if self.level_db < _FAINT_DB else f"more than {_FAINT_DB:.0f} dB"
        return f"{self.lane}{gap}{way}, {level} down"


def ghosts_of(board: Board, lane: Lane, *, sketch: bool = False) -> tuple[Ghost, ...]:
    """Every neighbour's run within reach of a lane's; a `sketch` while a gap is dragged."""
    plan = plan_of(board, lane, sketch=sketch)
    if not plan.neighbours:
        return ()
    bundles = {bundle.name: bundle for bundle in board.bundles}
    apart_m = {one.name: one.gap_m for one in board.catalogue.couplings if isinstance(one, SpacingCoupling)}
    gaps = {name: apart_m.get(bundle.coupling or "") for name, bundle in bundles.items()}
    ranks = {name: [one.name for one in in_bundle(board, bundle)] for name, bundle in bundles.items()}
    places = _places(lane)
    return tuple(
        _ghost(plan, one, places[one.span, one.element], ranks[one.bundle], gaps[one.bundle])
        for one in plan.neighbours
    )


def ghosts_or_none(board: Board, lane: Lane, *, sketch: bool = False) -> tuple[Ghost, ...]:
    """As `ghosts_of`, and none where they can't be had: the engine's thread meets the same and tells it."""
    try:
        return ghosts_of(board, lane, sketch=sketch)
    except PHYSICS_FAILS:
        _LOG.warning("the runs beside a path are not available", exc_info=True)
        return ()


def ghost_words(ghosts: tuple[Ghost, ...], at: int) -> str:
    """What lies beside one of the lane's runs, as a sentence; "" where nothing does."""
    beside = [ghost.words() for ghost in ghosts if ghost.at == at]
    return f" Beside it: {'; '.join(beside)}." if beside else ""


def _places(lane: Lane) -> dict[tuple[int, int], int]:
    """The number on the path of each element of each span."""
    found, span, element = {}, 0, 0
    for number, one in enumerate(lane.path):
        if isinstance(one, Stage):
            span, element = span + 1, 0
            continue
        found[span, element] = number
        element += 1
    return found


def _ghost(plan: LanePlan, one: Neighbour, at: int, ranked: list[str], gap_m: float | None) -> Ghost:
    element = plan.spans[one.span].elements[one.element]
    levels = one.end_levels(element, plan.profile.nyquist_hz)
    level = levels.near if one.against else levels.far
    begin, end = 0.0, 1.0
    if one.along is None:
        gap_m = None
    else:
        whole_m = element.length_m or one.along.shared_m
        begin, end = one.along.from_m / whole_m, (one.along.from_m + one.along.shared_m) / whole_m
    side = -1 if ranked.index(one.aggressor.name) < ranked.index(plan.name) else 1
    level_db = -20.0 * math.log10(max(level, 1e-9))
    part = element.length_m is None
    return Ghost(at, one.aggressor.name, one.bundle, side, begin, end, one.against, gap_m, level_db, part)


