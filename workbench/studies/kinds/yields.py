"""The yield study: what share of boards holds over tolerance, and what drives it."""

from collections.abc import Iterator

from workbench.board.model import Guard
from workbench.layout import Align, safe
from workbench.studies import forms
from workbench.studies.kinds.fields import (
    TYPED_TOLERANCES,
    OfLanes,
    lanes_of,
    tolerances_in,
    tolerances_typed,
)
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import UNHURRIED, Effort
from workbench.studies.pool.size import LIMIT
from workbench.studies.presentation import CurveLine, CurvePicture, Point, Presentation, TableRow
from workbench.studies.study import Cells, Study, Values
from workbench.studies.tables import guards_text, indented, made_text, scale_text, table, title_of
from workbench.studies.variation.yields import BOARD, Proportion, YieldAnswer, YieldOf, yield_study

DRIVERS = 3
SLIGHT = 0.1
"""Correlations below this are not worth a word."""
BAR = 40
SHOWN = (0.01, 0.05, 0.5, 0.95)
"""Levels of the quantiles in the text; the JSON has more."""

_DRAWS = 500
"""Draws of a study that the window asks for: half a minute."""
_POINTS = 60
"""Points of a distribution that are drawn."""


class YieldStudy(OfLanes, Study):
    """How many of many boards will do."""

    place = 50
    word, purpose, fields = forms.YIELD
    title = "Yield"
    typed = TYPED_TOLERANCES

    def values(self, subject: str, typed: str = "") -> Values:
        """Seeded draws from the tolerances.

        Raises:
            StudyError: a tolerance does not read.
        """
        return {"tolerances": tolerances_typed(typed), "lanes": lanes_of(subject), "draws": _DRAWS}

    def answer(self, basis: Basis, values: Values, *, limit: int = LIMIT, effort: Effort = UNHURRIED) -> YieldAnswer:
        """The share of boards that hold; raises StudyError."""
        return yield_study(
            basis, tolerances_in(values), lanes=values.get("lanes"), draws=values.get("draws", 1000),
            seed=values.get("seed", 1), sobol=values.get("sobol", False), limit=limit, effort=effort,
        )  # fmt: skip

    def present(self, answer: YieldAnswer) -> Presentation:
        """The margin's distribution, and what moves it."""
        first = answer.lanes[0]
        kept = first.keeps_limits
        driver = first.drivers[0] if first.drivers else None
        moved = f"; {driver.label} affects it most (rank correlation {driver.correlation:+z.2f})" if driver else ""
        sentence = (
            f"{first.lane or 'The board'} keeps its limits in {100.0 * kept.value:.1f} % of {answer.draws} draws "
            f"(95 % confidence: {100.0 * kept.low:.1f} to {100.0 * kept.high:.1f} %){moved}."
        )
        rows = tuple(_yield_row(one, f"lanes[{number}]") for number, one in enumerate(answer.lanes))
        share = tuple(n / (_POINTS - 1) for n in range(_POINTS))
        lines = tuple(CurveLine(one.lane or "the board", _distribution(one, share, f"lanes[{number}]"))
                      for number, one in enumerate(answer.lanes[:8]))  # fmt: skip
        heads = ("lane", "keeps limits", "from", "to", "within guard band", "driver")
        picture = CurvePicture("share of draws below this margin", "", share, lines)
        return Presentation(sentence, picture, heads, rows)

    def text(self, answer: YieldAnswer, guard: Guard) -> str:
        """Yield with its interval, the spread of the margin and what drives it."""
        return _text(answer, guard)

    def rows(self, answer: YieldAnswer) -> Iterator[Cells]:
        """One row for each draw and lane; the board's rows have no lane's name."""
        return _rows(answer)

    def passes(self, answer: YieldAnswer) -> bool:
        """Whether every draw of every lane passes."""
        return all(one.keeps_guard.value == 1.0 for one in answer.lanes)


def _yield_row(one: YieldOf, place: str) -> TableRow:
    kept, guard = one.keeps_limits, one.keeps_guard
    driver = f"{one.drivers[0].label} {one.drivers[0].correlation:+z.2f}" if one.drivers else ""
    cells = (one.lane or "the board", f"{kept.value:.3f}", f"{kept.low:.3f}", f"{kept.high:.3f}",
             f"{guard.value:.3f}", driver)  # fmt: skip
    kept_at, driven = f"{place}.keeps_limits", f"{place}.drivers[0].correlation" if one.drivers else ""
    figures = ("", *(f"{kept_at}.{end}" for end in ("value", "low", "high")), f"{place}.keeps_guard.value", driven)
    return TableRow(cells, None, figures)


def _distribution(one: YieldOf, share: tuple[float, ...], place: str) -> tuple[Point, ...]:
    """The sorted margins, read at even shares."""
    margins = sorted((margin, draw) for draw, margin in enumerate(one.margin_guards))
    last = len(margins) - 1
    read = [(at, *margins[round(at * last)]) for at in share]
    return tuple(
        Point(f"{100.0 * at:.0f} % of the draws have a normalized margin below {margin:+z.1f}", margin,
              figure=f"{place}.margin_guards[{draw}]")
        for at, margin, draw in read
    )  # fmt: skip


def _text(answer: YieldAnswer, guard: Guard) -> str:
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
    lines += ["", *indented("Columns with % are percentiles of the normalized margin: that share of draws lies below.")]
    if answer.sobol:
        lines += indented("The interval is that of as many independent draws; Sobol points are usually tighter.")
    return "\n".join([*lines, "", *scale_text(guard), *made_text(answer.made)]) + "\n"


def _rows(answer: YieldAnswer) -> Iterator[Cells]:
    """Head and one row a draw and lane; the board's rows have no lane's name."""
    yield ("draw", "lane", "margin_guards", "keeps_limits", "keeps_guard")
    for one in answer.lanes:
        for draw, margin in enumerate(one.margin_guards):
            yield draw, one.lane, margin, int(margin >= 0.0), int(margin >= 1.0)


def _name(one: YieldOf) -> str:
    return "whole board" if one.lane == BOARD else safe(one.lane)


def _percent(share: float) -> str:
    return f"{share * 100:.1f} %"


def _interval(share: Proportion) -> str:
    return f"{share.low * 100:.1f} to {share.high * 100:.1f} %"


def _drivers(one: YieldOf) -> str:
    strong = [driver for driver in one.drivers if abs(driver.correlation) >= SLIGHT][:DRIVERS]
    if not strong:
        return "nothing that varies moves the margin noticeably"
    words = ", then ".join(f"{safe(driver.label)} ({driver.correlation:+z.2f})" for driver in strong)
    return f"driven by {words} (rank correlation with the margin)"


def _histogram(one: YieldOf) -> list[str]:
    """How often which margin came, a row a bin."""
    low, high = min(one.margin_guards), max(one.margin_guards)
    if low == high:
        return [f"Normalized margin of {_name(one)}: {guards_text(low)} in every draw"]
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
    return [f"Normalized margin of {_name(one)}", *table([("from", "", "to", "draws", ""), *rows], aligns)]
