"""The eye that bits draw: its opening, read off counts over time and level."""

import numpy as np

from workbench.arrays import Floats
from workbench.desk.panes.figures import millivolts, ratio_words
from workbench.desk.panes.plot.axes import number
from workbench.waveform.result import CountedOpening, WaveformResult


def counted_outline(result: WaveformResult, ratio: float) -> tuple[Floats, Floats]:
    """The opening around the threshold inside which less than `ratio` of each symbol's samples were seen.

    Returns:
        Times in UI and levels in V of a closed ring, shape (k,) each; empty where the eye is closed at that ratio, or
        where it has more than two levels, between which no single threshold tells symbols apart.
    """
    counts = result.density.astype(float)
    columns, levels = counts.shape
    half = levels // 2
    allowed = ratio * counts.sum(axis=1, keepdims=True) / 2.0
    # From the threshold outward: how many cells of a column hold together no more than is allowed.
    up = (np.cumsum(counts[:, half:], axis=1) <= allowed).sum(axis=1)
    down = (np.cumsum(counts[:, :half][:, ::-1], axis=1) <= allowed).sum(axis=1)
    open_ = np.flatnonzero((up > 0) & (down > 0))
    if not open_.size:
        return np.empty(0), np.empty(0)
    widest = max(np.split(open_, np.flatnonzero(np.diff(open_) > 1) + 1), key=len)
    step_v = result.range_v / half
    x = (widest + 0.5) / columns
    top, bottom = up[widest] * step_v, -down[widest] * step_v
    ring_x, ring_y = np.concatenate((x, x[::-1])), np.concatenate((top, bottom[::-1]))
    return np.append(ring_x, ring_x[0]), np.append(ring_y, ring_y[0])


def counted_opening(result: WaveformResult) -> CountedOpening | None:
    """The opening that was counted at the least error ratio."""
    found = [one for one in result.measures.openings if one.method == "counted" and one.height_v is not None]
    return min(found, key=lambda one: one.error_ratio, default=None)


def counted_words(result: WaveformResult, opening: CountedOpening | None) -> str:
    """The opening that was counted, the statistical one at its BER, and how often the receiver was wrong."""
    errors = result.measures.errors
    part = "" if result.complete else ", then stopped"
    wrong = {0: "no error", 1: "1 error"}.get(errors.errors, f"{_thousands(errors.errors)} errors")
    said = f"{wrong} in {_thousands(errors.symbols)} symbols{part}"
    if opening is None or opening.height_v is None:
        return said
    lines = [f"counted {_opening_words(opening)} at {ratio_words(opening.error_ratio)}"]
    lines += [f"{'line-coded' if one.method == 'coded' else 'statistical'} {_opening_words(one)}, "
              f"{_apart_words(opening, one)}" for one in _computed(result, opening)]  # fmt: skip
    return "\n".join([*lines, said])


def _computed(result: WaveformResult, counted: CountedOpening) -> list[CountedOpening]:
    """What the statistical eyes have at the BER of what was counted."""
    found = (result.measures.opening(method, counted.error_ratio) for method in ("coded", "statistical"))
    return [one for one in found if one is not None and one.height_v is not None]


def _opening_words(opening: CountedOpening) -> str:
    assert opening.height_v is not None
    width = f", {number(opening.width_ui, 3)} UI" if opening.width_ui is not None else ""
    return f"{millivolts(opening.height_v)} mV{width}"


def _apart_words(counted: CountedOpening, computed: CountedOpening) -> str:
    assert counted.height_v is not None
    assert computed.height_v is not None
    apart_v = computed.height_v - counted.height_v
    return f"{'+' if apart_v >= 0.0 else ''}{millivolts(apart_v)} mV apart"


def _thousands(count: int) -> str:
    return f"{count:,}".replace(",", " ")
