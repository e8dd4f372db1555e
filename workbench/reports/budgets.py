"""What eats a lane's margin, in words and figures ready to be set in a report."""

from typing import NamedTuple

from workbench.studies.budget import BudgetItem, LaneBudget
from workbench.studies.tables import guards_text

HEADS = ("made ideal", "alone", "in turn", "in reverse", "spread", "height alone, mV", "width alone, UI")


class BudgetPage(NamedTuple):
    """A lane's budget as text.

    Attributes:
        lane: its name.
        said: what would help most, a sentence.
        ends: its margin as it is and with everything ideal.
        rows: a cell for each of `HEADS`, a row a thing.
        picture: the same as bars, an SVG document; "" where none was drawn.
    """

    lane: str
    said: str
    ends: str
    rows: tuple[tuple[str, ...], ...]
    picture: str


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
        ends=f"{now} guard bands as it is, {ideal} with everything below ideal",
        rows=tuple(map(_row, budget.items)),
        picture=picture,
    )


def _row(item: BudgetItem) -> tuple[str, ...]:
    three = (item.alone_guards, item.forward_guards, item.reverse_guards)
    spread = f"{max(three) - min(three):.2f}"
    height, width = f"{item.alone_height_v * 1e3:+.1f}", f"{item.alone_width_ui:+.3f}"
    return (item.name, *map(guards_text, three), spread, height, width)
