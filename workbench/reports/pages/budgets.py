"""A lane's margin budget, in words and figures ready to be set in a report."""

from typing import NamedTuple

from workbench.studies.budget import BudgetAnswer, LaneBudget
from workbench.studies.kinds.budget import BUDGET_FIELDS, budget_cells
from workbench.studies.tables import guards_text


class BudgetPage(NamedTuple):
    """A lane's budget as text.

    Attributes:
        lane: its name.
        said: what would help most, a sentence.
        ends: its margin as it is and with everything ideal.
        rows: a cell for each of `BUDGET_HEADS`, a row a thing.
        picture: the same as bars, an SVG document; "" where none was drawn.
    """

    lane: str
    said: str
    ends: str
    rows: tuple[tuple[str, ...], ...]
    picture: str


def budget_figures(answer: BudgetAnswer, lane: str) -> tuple[str, ...]:
    """The figures of a lane's page, of its first row, as paths in the answer's JSON; nothing where it has no budget."""
    place = next((f"lanes[{n}]" for n, one in enumerate(answer.lanes) if one.lane == lane), "")
    ends = (f"{place}.now.margin_guards", f"{place}.ideal.margin_guards")
    return (*ends, *(f"{place}.items[0].{field}" for field in BUDGET_FIELDS)) if place else ()


def budget_page(budget: LaneBudget, picture: str = "") -> BudgetPage:
    """A lane's budget as a report shows it.

    Args:
        budget: what the study found.
        picture: it drawn as bars, an SVG document.
    """
    now, ideal = guards_text(budget.now.margin_guards), guards_text(budget.ideal.margin_guards)
    return BudgetPage(
        lane=budget.lane,
        said=f"{budget.said}.",
        ends=f"normalized margin {now} as it is, {ideal} with everything below made ideal",
        rows=tuple(map(budget_cells, budget.items)),
        picture=picture,
    )
