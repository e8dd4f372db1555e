"""What the two legs of a pair differ by, and what of the signal turns into the common mode: told, with no verdict.

Of the passive channel of each span, between matched ends (100 ohm differential, 25 ohm common): a conditioner stops the
common mode, so that each span begins without any. Where a profile states a limit on the conversion over frequency it is
one of the channel's (`channel`).
"""

from collections.abc import Iterator

import numpy as np

from workbench.arrays import Floats, decibels
from workbench.engine.assessment import SkewResult
from workbench.engine.lane.grid import Axis, Grid
from workbench.engine.lane.path import LanePlan, Span
from workbench.engine.lane.spans import channel_modes
from workbench.engine.memo import Memo
from workbench.parts.fourport import FourPort
from workbench.parts.networks.curve import slope_s

TOLD_LOSS_DB, TOLD_CONVERSION_DB = 0.1, 20.0
"""From such a loss at Nyquist, or less conversion loss up to it, a finding tells of it: common practice, no source."""
HEAVY_LOSS_DB = 0.5
"""From such a loss it is a warning: common practice, no source."""
_NOTHING = 1e-15
_WINDOW_UI, _POINTS = 256, 129


def skew_results(memo: Memo, plan: LanePlan) -> tuple[SkewResult, ...]:
    """Skew and conversion of every span that turns the differential mode into the common one."""
    return tuple(_results(memo, plan))


def _results(memo: Memo, plan: LanePlan) -> Iterator[SkewResult]:
    grid = Grid(plan.profile.ui_s, _WINDOW_UI, _POINTS)
    f_hz = grid.f_hz[1:]
    for span in plan.spans:
        seen = channel_modes(memo, span, grid)
        if seen is None:
            continue
        through, converted = np.abs(seen.differential.s21[1:]), np.abs(seen.converted[1:])
        loss_db = conversion_loss_of(seen)[1:]
        worst = int(loss_db.argmin())
        yield SkewResult(
            from_=span.from_, to=span.to, skew_s=leg_skew_s(grid.f_hz, seen),
            loss_db=float(10.0 * np.log10(1.0 + (converted[-1] / max(through[-1], _NOTHING)) ** 2)),
            conversion_loss_db=float(loss_db[worst]), at_hz=float(f_hz[worst]),
        )  # fmt: skip


def conversion_loss_of(seen: FourPort) -> Floats:
    """How far below a differential wave the common mode lies that it leaves at the other end, -20 log10 |SCD21|, dB,
    shape (n,)."""
    return -decibels(np.abs(seen.converted), _NOTHING)


def conversion_loss_db(memo: Memo, span: Span, axis: Axis) -> Floats | None:
    """Conversion loss of a span's channel at the axis's frequencies, dB, shape (n,); None where it converts nothing."""
    seen = channel_modes(memo, span, axis)
    return None if seen is None else conversion_loss_of(seen)


def leg_skew_s(f_hz: Floats, seen: FourPort) -> float:
    """How much later the positive leg's signal comes out than the negative one's, s, each leg driven alone.

    Args:
        f_hz: Hz, shape (n,).
        seen: the channel there.
    """
    (dd, dc), (cd, cc) = seen.s21
    positive, negative = (dd + cc + dc + cd) / 2.0, (dd + cc - dc - cd) / 2.0
    return slope_s(f_hz, negative * np.conj(positive))
