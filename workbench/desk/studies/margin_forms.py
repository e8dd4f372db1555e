"""Questions about how sure a margin is and what eats it: corners, yield, budget."""

import math

from workbench.board.model import Board
from workbench.desk.studies.form_base import Asking
from workbench.desk.studies.work import Ask
from workbench.quantity import show
from workbench.studies.budget import BudgetAnswer, BudgetItem, LaneBudget, budget_study
from workbench.studies.corners import CornersAnswer, LaneCorners, corners_study
from workbench.studies.pool.jobs import Question
from workbench.studies.presentation import (
    NOT_KNOWN,
    Bar,
    BarPicture,
    CurvePicture,
    Line,
    Point,
    Row,
    Told,
    guards_words,
)
from workbench.studies.tolerances import Tolerance, tolerance_from_text
from workbench.studies.yields import YieldAnswer, YieldOf, yield_study

ALL = "all lanes"
_DRAWS = 500
_BEYOND = 8
"""So many factors make 256 corners; of more, one at a time is looked at."""
_POINTS = 60
"""Points of a distribution that are drawn."""


class _OfLanes(Asking):
    """A question about one lane or all."""

    about = "lane"

    def subjects(self, board: Board, lane: str) -> tuple[str, ...]:
        """The current lane, all together, the others."""
        names = [one.name for one in board.lanes]
        return tuple(dict.fromkeys((*([lane] if lane in names else ()), *([ALL] if names else ()), *names)))

    def own(self, board: Board, lane: str) -> tuple[str, ...]:
        """The lane itself."""
        del board
        return (lane,)


class CornersAsking(_OfLanes):
    """Does it hold at the ends of tolerances."""

    word, title = "corners", "Corners"
    typed = "impedance=±10%; loss=±10%"
    typed_about = "tolerances, such as impedance=±10%; boost:U1=±1 dB; length=±2% per lane"

    def ask(self, question: Question, subject: str, typed: str = "") -> Ask:
        """All corners; of many tolerances, one at a time.

        Raises:
            StudyError: a tolerance does not read.
        """
        tolerances, lanes = tolerances_of(typed), lanes_of(subject)
        every = len(tolerances) <= _BEYOND
        return lambda effort: corners_study(question, tolerances, lanes=lanes, every=every, effort=effort)

    def told(self, answer: CornersAnswer) -> Told:
        """Every lane's worst corner, and what each tolerance does to the worst of them."""
        lane = min(answer.lanes, key=lambda one: one.worst.margin_guards)
        where = f" at {lane.worst_at}" if lane.worst_at else ""
        sentence = (
            f"Worst of {len(answer.corners)} corners: {lane.lane} {guards_words(lane.worst.margin_guards)} guard bands "
            f"({lane.worst.verdict}){where}; as it is {guards_words(lane.nominal.margin_guards)}."
        )
        rows = tuple(
            Row((one.lane, guards_words(one.nominal.margin_guards), guards_words(one.worst.margin_guards),
                 one.worst.verdict, str(one.failing), one.worst_at or "as it is"))
            for one in sorted(answer.lanes, key=lambda one: one.worst.margin_guards)
        )  # fmt: skip
        heads = ("lane", "nominal", "worst", "verdict", "corners that fail", "worst at")
        return Told(sentence, _effects(answer, lane), heads, rows)

    def growing(self, answer: CornersAnswer) -> Told:
        """The bars are of the lane that is worst as it is: that is known from the start, the worst corner is not."""
        lane = min(answer.lanes, key=lambda one: one.nominal.margin_guards)
        return self.told(answer)._replace(picture=_effects(answer, lane))


def _effects(answer: CornersAnswer, lane: LaneCorners) -> BarPicture:
    """What each tolerance does to a lane; one whose ends have not both been looked at is not known."""
    bars = tuple(
        Bar(factor.label, (0.0, effect), f"{effect:+.2f}") if math.isfinite(effect)
        else Bar(factor.label, None, NOT_KNOWN)
        for factor, effect in zip(answer.factors, lane.effect_guards, strict=True)
    )  # fmt: skip
    return BarPicture(f"{lane.lane}: margin at the upper end less that at the lower, guard bands", bars)


class YieldAsking(_OfLanes):
    """How many of many boards will do."""

    word, title = "yield", "Yield"
    typed, typed_about = CornersAsking.typed, CornersAsking.typed_about

    def ask(self, question: Question, subject: str, typed: str = "") -> Ask:
        """Seeded draws from the tolerances.

        Raises:
            StudyError: a tolerance does not read.
        """
        tolerances, lanes = tolerances_of(typed), lanes_of(subject)
        return lambda effort: yield_study(question, tolerances, lanes=lanes, draws=_DRAWS, effort=effort)

    def told(self, answer: YieldAnswer) -> Told:
        """The margin's distribution, and what moves it."""
        first = answer.lanes[0]
        kept = first.keeps_limits
        driver = first.drivers[0] if first.drivers else None
        moved = f"; {driver.label} moves it most (rank correlation {driver.correlation:+.2f})" if driver else ""
        sentence = (
            f"{first.lane or 'The board'} keeps its limits in {100.0 * kept.value:.1f} % of {answer.draws} draws "
            f"(95 % confidence: {100.0 * kept.low:.1f} to {100.0 * kept.high:.1f} %){moved}."
        )
        rows = tuple(_yield_row(one) for one in answer.lanes)
        share = tuple(n / (_POINTS - 1) for n in range(_POINTS))
        lines = tuple(Line(one.lane or "the board", _distribution(one, share)) for one in answer.lanes[:8])
        heads = ("lane", "keeps limits", "from", "to", "within guard band", "driver")
        return Told(sentence, CurvePicture("share of the draws with less margin", "", share, lines), heads, rows)


def _yield_row(one: YieldOf) -> Row:
    kept, guard = one.keeps_limits, one.keeps_guard
    driver = f"{one.drivers[0].label} {one.drivers[0].correlation:+.2f}" if one.drivers else ""
    cells = (one.lane or "the board", f"{kept.value:.3f}", f"{kept.low:.3f}", f"{kept.high:.3f}",
             f"{guard.value:.3f}", driver)  # fmt: skip
    return Row(cells)


def _distribution(one: YieldOf, share: tuple[float, ...]) -> tuple[Point, ...]:
    """The sorted margins, read at even shares."""
    margins = sorted(one.margin_guards)
    last = len(margins) - 1
    return tuple(
        Point(f"{100.0 * at:.0f} % of the draws have less than {margins[round(at * last)]:+.1f} guard bands",
              margins[round(at * last)])
        for at in share
    )  # fmt: skip


class BudgetAsking(_OfLanes):
    """What eats the margin."""

    word, title = "budget", "Budget"

    def subjects(self, board: Board, lane: str) -> tuple[str, ...]:
        """One lane at a time: every lane takes some hundred assessments."""
        return tuple(name for name in super().subjects(board, lane) if name != ALL)

    def ask(self, question: Question, subject: str, typed: str = "") -> Ask:
        """Each thing made ideal, in a stated order and its reverse."""
        del typed
        return lambda effort: budget_study(question, lanes=(subject,), effort=effort)

    def told(self, answer: BudgetAnswer) -> Told:
        """What each thing costs: alone as a number, in its turn as a bar from one order to the other."""
        budget = answer.lanes[0]
        heads = ("made ideal", "alone", "in turn", "in reverse", "height", "width UI")
        rows = tuple(_budget_row(item) for item in sorted(budget.items, key=lambda item: -item.alone_guards))
        return Told(f"{budget.lane}: {budget.said}.".replace("..", "."), budget_bars(budget), heads, rows)


def budget_bars(budget: LaneBudget) -> BarPicture:
    """A lane's budget as bars, for the panel and for paper."""
    bars = tuple(
        Bar(item.name, (item.forward_guards, item.reverse_guards), f"{item.alone_guards:+.2f} alone")
        for item in budget.items
    )
    return BarPicture("guard bands gained, from the one order to the other", bars)


def _budget_row(item: BudgetItem) -> Row:
    guards = (f"{one:+.2f}" for one in (item.alone_guards, item.forward_guards, item.reverse_guards))
    return Row((item.name, *guards, show(item.alone_height_v, "V", digits=3), f"{item.alone_width_ui:+.3f}"))


def lanes_of(subject: str) -> tuple[str, ...] | None:
    """The lanes that a subject means; None for all."""
    return None if subject == ALL else (subject,)


def tolerances_of(typed: str) -> tuple[Tolerance, ...]:
    """Tolerances as they are typed, one after another with semicolons between.

    Raises:
        StudyError: one of them does not read, or there is none.
    """
    parts = [part for part in typed.split(";") if part.strip()] or [typed]
    return tuple(map(tolerance_from_text, parts))
