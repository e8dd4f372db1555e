"""What a search for remedies has found so far: figures by what was tried, counts, and what is said of a lane."""

from collections.abc import Mapping, Sequence

import msgspec

from workbench.studies.figures import LaneFigures
from workbench.studies.remedies.answer import LaneRemedies, RemedyOffer, Tried
from workbench.studies.remedies.moves import Remedy, key_of
from workbench.studies.remedies.worst import LaneOverCorners
from workbench.wording import counted


class Found(msgspec.Struct, frozen=True):
    """A remedy that was tried, with the lane's figures."""

    moves: Remedy
    figures: LaneFigures


Known = Mapping[frozenset[tuple[str, tuple[int, ...]]], float]
"""The lane's margins by what was tried, in guard bands."""


def known_of(now: LaneFigures, tried: Mapping[str, list[Found]]) -> Known:
    """The lane's margin with each remedy that was tried, and with none."""
    found = {key_of(one.moves): one.figures.margin_guards for some in tried.values() for one in some}
    return {key_of(()): now.margin_guards, **found}


def counts_of(tried: Mapping[str, list[Found]]) -> tuple[Tried, ...]:
    """How many were tried of each class, and the best of them."""
    return tuple(
        Tried(kind=kind, count=len(some), best_guards=max((one.figures.margin_guards for one in some), default=None))
        for kind, some in tried.items()
    )


def under_way(now: LaneFigures, offers: Sequence[RemedyOffer], tried: Mapping[str, list[Found]]) -> LaneRemedies:
    """What is known of a lane while it is looked at; its answers keep the order in which they came."""
    counts = counts_of(tried)
    number = counted(sum(one.count for one in counts), "change")
    said = f"{now.lane} ({now.margin_guards:+z.2f}, {now.verdict}): {number} tried"
    return LaneRemedies(lane=now, offers=tuple(offers), nearest=None, tried=counts, said=said)


def unjudged_words(now: LaneFigures) -> str:
    """Why a lane that is not judged was not searched for."""
    unlimited = now.margin_height_v is None and now.margin_width_ui is None
    why = "its profile knows no limit" if unlimited else "a maker's model in it was not run"
    return f"{now.lane} is not judged ({why}), so there was nothing to search for"


def said_of(
    lane: LaneOverCorners, offers: Sequence[RemedyOffer], nearest: RemedyOffer | None, *, cut_short: bool
) -> str:  # fmt: skip
    """What was found for a lane, in a sentence without a full stop.

    Args:
        lane: as it is.
        offers: what makes it pass.
        nearest: the nearest miss; None for none.
        cut_short: whether the search was ended before its end.
    """
    now, worst = lane.worst, min(lane.corners, key=lambda one: one.figures.margin_guards, default=None)
    where = "" if worst is None else f"; worst {worst.corner}" if worst is lane.corners[0] else f" at {worst.corner}"
    stands = f"{now.lane} ({now.margin_guards:+z.2f}, {now.verdict}{where})"
    if any(offer.cures for offer in offers):
        cures = counted(sum(offer.cures for offer in offers), "answer makes", "answers make")
        return f"{stands}: {cures} it pass, and no other lane worse"
    if offers:
        return f"{stands} can be made to pass, but only by what makes another lane worse"
    so_far = "the search was cut short, and nothing tried so far" if cut_short else "nothing that was tried"
    if nearest is None:
        return f"{stands}: {so_far} is better than it is"
    after = nearest.lane.after
    return f"{stands}: {so_far} makes it pass; the nearest miss has {after.margin_guards:+z.2f}"
