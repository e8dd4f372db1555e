"""What would make lanes pass, in words and figures ready to be set in a report."""

from typing import NamedTuple

from workbench.studies.remedies.answer import CornerEffect, LaneRemedies, RemedyAnswer, RemedyOffer
from workbench.studies.tables import guards_text
from workbench.wording import counted

REMEDY_HEADS = ("what to change", "class", "margin before", "after", "worst neighbour", "requires", "other lanes")
CORNER_HEADS = ("corner", "margin before", "after")


class RemedyPage(NamedTuple):
    """A lane's remedies.

    Attributes:
        lane, said: its name, and the answer in a sentence.
        rows: a cell for each of `REMEDY_HEADS`, a row an answer.
        left_out: where the search was cut short, each in a sentence.
        corners: of each answer a cell for each of `CORNER_HEADS`, a row a corner; nothing where nothing varies.
    """

    lane: str
    said: str
    rows: tuple[tuple[str, ...], ...]
    left_out: tuple[str, ...] = ()
    corners: tuple[tuple[tuple[str, ...], ...], ...] = ()


def remedy_figures(answer: RemedyAnswer) -> tuple[str, ...]:
    """The figures of the first lane's remedies, as paths in the answer's JSON; nothing where there are none."""
    for number, lane in enumerate(answer.lanes):
        places = [f"offers[{n}]" for n in range(len(lane.offers))] or ["nearest"] * (lane.nearest is not None)
        if places:
            ends = ["lane.before.margin_guards", "lane.after.margin_guards", "nearby_guards", "power_w"]
            return tuple(f"lanes[{number}].{place}.{end}" for place in places for end in ends)
    return ()


def remedy_page(found: LaneRemedies) -> RemedyPage:
    """A lane's remedies as a report shows them; where nothing cures it, the nearest miss."""
    offers = found.offers or ((found.nearest,) if found.nearest is not None else ())
    left_out = tuple(f"Cut short: {words}." for words in found.left_out)
    corners = tuple(tuple(map(_corner_row, offer.lane.corners)) for offer in offers if offer.lane.corners)
    return RemedyPage(found.lane.lane, f"{found.said}.", tuple(map(_row, offers)), left_out, corners)


def _corner_row(one: CornerEffect) -> tuple[str, ...]:
    after = f"{guards_text(one.after.margin_guards)} ({one.after.verdict})"
    return one.corner, guards_text(one.before.margin_guards), after


def _row(offer: RemedyOffer) -> tuple[str, ...]:
    harm = f"worse: {', '.join(offer.harms)}" if offer.harms else (
        f"{counted(len(offer.others), 'lane')} touched, none worse" if offer.others else "none touched"
    )  # fmt: skip
    return (
        offer.words, offer.kinds, guards_text(offer.lane.before.margin_guards),
        f"{guards_text(offer.lane.after.margin_guards)} ({offer.lane.after.verdict})", guards_text(offer.nearby_guards),
        offer.cost or "nothing", harm,
    )  # fmt: skip
