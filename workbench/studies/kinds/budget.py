"""The budget study: what a lane's margin is spent on, and what would help most."""

from collections.abc import Iterator

from workbench.board.model import Board, Guard
from workbench.layout import Align, paragraph, safe
from workbench.quantity import show
from workbench.studies import forms
from workbench.studies.budget import BudgetAnswer, BudgetItem, LaneBudget, budget_study
from workbench.studies.kinds.fields import ALL, OfLanes
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import UNHURRIED, Effort
from workbench.studies.pool.size import LIMIT
from workbench.studies.presentation import Bar, BarPicture, Presentation, TableRow
from workbench.studies.study import Cells, Study, Values
from workbench.studies.tables import COLUMNS, guards_text, indented, made_text, scale_text, table, title_of

BUDGET_HEADS = ("made ideal", "alone", "in turn", "in reverse", "spread", "height alone, mV", "width alone, UI")


class BudgetStudy(OfLanes, Study):
    """Each thing made ideal, in a stated order and its reverse."""

    place = 60
    word, purpose, fields = forms.BUDGET
    title = "Margin budget"

    def subjects(self, board: Board, lane: str) -> tuple[str, ...]:
        """One lane at a time: every lane takes some hundred assessments."""
        return tuple(name for name in super().subjects(board, lane) if name != ALL)

    def values(self, subject: str, typed: str = "") -> Values:
        """The lane that the budget is of."""
        del typed
        return {"lanes": (subject,)}

    def answer(self, basis: Basis, values: Values, *, limit: int = LIMIT, effort: Effort = UNHURRIED) -> BudgetAnswer:
        """Every lane's budget; raises StudyError."""
        return budget_study(basis, lanes=values.get("lanes"), limit=limit, effort=effort)

    def present(self, answer: BudgetAnswer) -> Presentation:
        """What each thing costs: alone as a number, in its turn as a bar from one order to the other."""
        budget = answer.lanes[0]
        heads = ("made ideal", "height", "width UI", "alone, normalized", "in turn", "in reverse")
        ranked = sorted(range(len(budget.items)), key=lambda number: -budget.items[number].alone_guards)
        rows = tuple(_budget_row(budget.items[number], f"lanes[0].items[{number}]") for number in ranked)
        return Presentation(f"{budget.lane}: {budget.said}.".replace("..", "."), budget_bars(budget), heads, rows)

    def text(self, answer: BudgetAnswer, guard: Guard) -> str:
        """Every lane's budget and what would help most."""
        return _text(answer, guard)

    def rows(self, answer: BudgetAnswer) -> Iterator[Cells]:
        """One row for each lane and thing."""
        return _rows(answer)

    def passes(self, answer: BudgetAnswer) -> bool:
        """Whether every lane passes as it is."""
        return all(lane.now.verdict == "pass" for lane in answer.lanes)


def _text(answer: BudgetAnswer, guard: Guard) -> str:
    """Every lane's margin budget and what would help most, as lines of text.

    Args:
        answer: what was found.
        guard: the board's guard bands, which margins are counted in.
    """
    lines = [f"{title_of(answer.made)}: margin budget", ""]
    for lane in answer.lanes:
        lines += [*_lane(lane), ""]
    lines += paragraph(
        f"How much the margin grows when a thing is made ideal: alone; in turn in the order {', '.join(answer.order)}; "
        "in turn in the reverse order. They differ because effects overlap. Equalization is made ideal by setting the "
        "lane's devices as is best for this lane alone.",
        COLUMNS,
    )
    return "\n".join([*lines, "", *scale_text(guard), *made_text(answer.made)]) + "\n"


def _rows(answer: BudgetAnswer) -> Iterator[Cells]:
    """Head and one row a lane and thing; SI units in the column names."""
    yield (
        "lane", "thing", "now_guards", "ideal_guards", "alone_guards", "forward_guards", "reverse_guards",
        "alone_height_v", "alone_width_ui",
    )  # fmt: skip
    for lane in answer.lanes:
        for item in lane.items:
            yield (
                lane.lane, item.name, lane.now.margin_guards, lane.ideal.margin_guards, item.alone_guards,
                item.forward_guards, item.reverse_guards, item.alone_height_v, item.alone_width_ui,
            )  # fmt: skip


def _lane(lane: LaneBudget) -> list[str]:
    right: list[Align] = ["right"] * (len(BUDGET_HEADS) - 1)
    aligns: list[Align] = ["left", *right]
    ends = f"{safe(lane.lane)}: {guards_text(lane.now.margin_guards)} as it is, {guards_text(lane.ideal.margin_guards)}"
    rows = [BUDGET_HEADS, *map(budget_cells, lane.items)]
    return [f"{ends} with everything ideal", *table(rows, aligns), *indented(f"{lane.said}.")]


BUDGET_FIELDS = (
    "alone_guards", "forward_guards", "reverse_guards", "spread_guards", "alone_height_v", "alone_width_ui",
)  # fmt: skip
"""What stands under `BUDGET_HEADS` but the first, by the fields of an item."""


def budget_cells(item: BudgetItem) -> tuple[str, ...]:
    """A cell for each of `BUDGET_HEADS`."""
    three = (item.alone_guards, item.forward_guards, item.reverse_guards)
    height, width = f"{item.alone_height_v * 1e3:+z.1f}", f"{item.alone_width_ui:+z.3f}"
    return (item.name, *map(guards_text, three), f"{item.spread_guards:.2f}", height, width)


def budget_bars(budget: LaneBudget, place: str = "lanes[0]") -> BarPicture:
    """A lane's budget as bars, for the window and for paper; `place`: where it stands in the answer's JSON."""
    ranked = sorted(enumerate(budget.items), key=lambda numbered: -abs(numbered[1].alone_guards))
    bars = tuple(
        Bar(item.name, (item.forward_guards, item.reverse_guards),
            f"{item.alone_height_v * 1e3:+z.0f} mV, {item.alone_guards:+z.2f} alone",
            f"{place}.items[{number}].alone_guards")
        for number, item in ranked
    )  # fmt: skip
    return BarPicture("normalized margin gained, from the one order to the other", bars)


def _budget_row(item: BudgetItem, place: str) -> TableRow:
    guards = (f"{one:+z.2f}" for one in (item.alone_guards, item.forward_guards, item.reverse_guards))
    cells = (item.name, show(item.alone_height_v, "V", digits=3), f"{item.alone_width_ui:+z.3f}", *guards)
    fields = ("alone_height_v", "alone_width_ui", "alone_guards", "forward_guards", "reverse_guards")
    return TableRow(cells, None, ("", *(f"{place}.{field}" for field in fields)))
