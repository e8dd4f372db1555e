"""A yield study as text and as a table for a spreadsheet."""

from collections.abc import Iterator

from workbench.board.model import Guard
from workbench.layout import Align, safe
from workbench.studies.tables import guards_text, indented, made_text, scale_text, table, title_of
from workbench.studies.yields import BOARD, Share, YieldAnswer, YieldOf

DRIVERS = 3
SLIGHT = 0.1
"""Correlations below this are not worth a word."""
BAR = 40
SHOWN = (0.01, 0.05, 0.5, 0.95)
"""Levels of the quantiles in the text; the JSON has more."""

Row = tuple[object, ...]


def yield_text(answer: YieldAnswer, guard: Guard) -> str:
    """Yield with its interval, the spread of the margin and what drives it, as lines of text.

    Args:
        answer: what was found.
        guard: the board's guard bands, which margins are counted in.
    """
    points = "Sobol points" if answer.sobol else "draws"
    lines = [f"{title_of(answer.made)}: yield of {answer.draws:,} {points}, seed {answer.seed}", ""]
    shown = [at for at, level in enumerate(answer.levels) if level in SHOWN]
    levels = [f"{answer.levels[at] * 100:g} %" for at in shown]
    heads = ("lane", "keeps limits", "95 % confidence", "within guard band", *levels)
    right: list[Align] = ["right"] * (3 + len(levels))
    aligns: list[Align] = ["left", *right]
    rows = [
        (
            _name(one), _percent(one.keeps_limits.value), _interval(one.keeps_limits), _percent(one.keeps_guard.value),
            *(guards_text(one.quantiles[at]) for at in shown),
        )
        for one in answer.lanes
    ]  # fmt: skip
    lines += [*table([heads, *rows], aligns), ""]
    lines += [line for one in answer.lanes for line in indented(f"{_name(one)}: {_drivers(one)}.")]
    lines += ["", *_histogram(answer.lanes[0])]
    lines += ["", *indented("Columns with % hold the margin that so many of the draws stay below, in guard bands.")]
    if answer.sobol:
        lines += indented("The interval is that of as many independent draws; Sobol points are surer as a rule.")
    return "\n".join([*lines, "", *scale_text(guard), *made_text(answer.made)]) + "\n"


def yield_rows(answer: YieldAnswer) -> Iterator[Row]:
    """Head and one row a draw and lane; the board's rows have no lane's name."""
    yield ("draw", "lane", "margin_guards", "keeps_limits", "keeps_guard")
    for one in answer.lanes:
        for draw, margin in enumerate(one.margin_guards):
            yield draw, one.lane, margin, int(margin >= 0.0), int(margin >= 1.0)


def _name(one: YieldOf) -> str:
    return "whole board" if one.lane == BOARD else safe(one.lane)


def _percent(share: float) -> str:
    return f"{share * 100:.1f} %"


def _interval(share: Share) -> str:
    return f"{share.low * 100:.1f} to {share.high * 100:.1f} %"


def _drivers(one: YieldOf) -> str:
    strong = [driver for driver in one.drivers if abs(driver.correlation) >= SLIGHT][:DRIVERS]
    if not strong:
        return "nothing that varies moves the margin noticeably"
    words = ", then ".join(f"{safe(driver.label)} ({driver.correlation:+.2f})" for driver in strong)
    return f"driven by {words} (rank correlation with the margin)"


def _histogram(one: YieldOf) -> list[str]:
    """How often which margin came, a row a bin."""
    low, high = min(one.margin_guards), max(one.margin_guards)
    if low == high:
        return [f"Margin of {_name(one)}: {guards_text(low)} in every draw"]
    bins = 12
    width = (high - low) / bins
    counts = [0] * bins
    for margin in one.margin_guards:
        counts[min(int((margin - low) / width), bins - 1)] += 1
    most = max(counts)
    ends = [guards_text(low + at * width) for at in range(bins + 1)]
    rows = [
        (ends[at], "to", ends[at + 1], f"{count}", "#" * round(count / most * BAR)) for at, count in enumerate(counts)
    ]
    aligns: list[Align] = ["right", "left", "right", "right", "left"]
    return [f"Margin of {_name(one)}, guard bands", *table([("from", "", "to", "draws", ""), *rows], aligns)]
