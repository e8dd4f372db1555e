"""The corners study: whether lanes hold at the ends of tolerances."""

import math
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
from workbench.studies.presentation import (
    MARGIN_HEADS,
    NOT_KNOWN,
    Bar,
    BarPicture,
    Presentation,
    TableRow,
    by_size,
    guards_words,
    margin_cells,
    margin_paths,
)
from workbench.studies.study import Cells, Study, Values
from workbench.studies.tables import guards_text, indented, made_text, scale_text, table, title_of
from workbench.studies.variation.corners import CornerFactor, CornersAnswer, LaneCorners, corners_study
from workbench.wording import SIGNS

_BEYOND = 8
"""So many factors make 256 corners; of more, the window looks at one at a time."""


class CornersStudy(OfLanes, Study):
    """Does it hold at the ends of tolerances."""

    place = 40
    word, purpose, fields = forms.CORNERS
    title = "Corners"
    typed = TYPED_TOLERANCES

    def values(self, subject: str, typed: str = "") -> Values:
        """All corners; of many tolerances, one at a time.

        Raises:
            StudyError: a tolerance does not read.
        """
        tolerances = tolerances_typed(typed)
        return {"tolerances": tolerances, "lanes": lanes_of(subject), "one_at_a_time": len(tolerances) > _BEYOND}

    def answer(self, basis: Basis, values: Values, *, limit: int = LIMIT, effort: Effort = UNHURRIED) -> CornersAnswer:
        """The worst corner of every lane; raises StudyError."""
        every = not values.get("one_at_a_time", False)
        return corners_study(
            basis, tolerances_in(values), lanes=values.get("lanes"), every=every, limit=limit, effort=effort
        )

    def present(self, answer: CornersAnswer) -> Presentation:
        """Every lane's worst corner, and what each tolerance does to the worst of them."""
        lane = min(answer.lanes, key=lambda one: one.worst.margin_guards)
        where = f" at {lane.worst_at}" if lane.worst_at else ""
        sentence = (
            f"Worst of {len(answer.corners)} corners: {lane.lane} normalized margin "
            f"{guards_words(lane.worst.margin_guards)} ({lane.worst.verdict}){where}; "
            f"now {guards_words(lane.nominal.margin_guards)}."
        )
        rows = tuple(
            TableRow(
                (one.lane, guards_words(one.nominal.margin_guards), *margin_cells(one.worst), one.worst.verdict,
                 str(one.failing), one.worst_at or "as it is"),
                None,
                ("", f"{place}.nominal.margin_guards", *margin_paths(f"{place}.worst", one.worst), "",
                 f"{place}.failing", ""),
            )
            for place, one in sorted(_placed(answer), key=lambda some: some[1].worst.margin_guards)
        )  # fmt: skip
        heads = ("lane", "nominal, normalized", *(f"worst {head}" for head in MARGIN_HEADS), "verdict",
                 "corners that fail", "worst at")  # fmt: skip
        picture = _effects(answer, lane)
        return Presentation(sentence, picture._replace(bars=by_size(picture.bars)), heads, rows)

    def present_growing(self, answer: CornersAnswer) -> Presentation:
        """The bars are of the lane that is worst as it is: that is known from the start, the worst corner is not."""
        lane = min(answer.lanes, key=lambda one: one.nominal.margin_guards)
        return self.present(answer)._replace(picture=_effects(answer, lane))

    def text(self, answer: CornersAnswer, guard: Guard) -> str:
        """What varied, every lane's worst corner, and which factor moves it."""
        return _text(answer, guard)

    def rows(self, answer: CornersAnswer) -> Iterator[Cells]:
        """One row for each corner and lane."""
        return _rows(answer)

    def passes(self, answer: CornersAnswer) -> bool:
        """Whether every lane passes at its worst corner."""
        return all(lane.worst.verdict == "pass" for lane in answer.lanes)


def _placed(answer: CornersAnswer) -> Iterator[tuple[str, LaneCorners]]:
    """Every lane with where it stands in the answer's JSON."""
    for number, one in enumerate(answer.lanes):
        yield f"lanes[{number}]", one


def _effects(answer: CornersAnswer, lane: LaneCorners) -> BarPicture:
    """What each tolerance does to a lane; one whose ends have not both been looked at is not known."""
    place = next(place for place, one in _placed(answer) if one is lane)
    effects = zip(answer.factors, lane.effect_guards, strict=True)
    bars = tuple(
        Bar(factor.label, (0.0, effect), f"{effect:+z.2f}", f"{place}.effect_guards[{number}]")
        if math.isfinite(effect) else Bar(factor.label, None, NOT_KNOWN)
        for number, (factor, effect) in enumerate(effects)
    )  # fmt: skip
    return BarPicture(f"{lane.lane}: normalized margin, upper end − lower end", bars)


def _text(answer: CornersAnswer, guard: Guard) -> str:
    """What varied, every lane's worst corner, and which factor moves it, as lines of text.

    Args:
        answer: what was found.
        guard: the board's guard bands, which margins are counted in.
    """
    how = "all combinations of both ends" if answer.every else "one at a time, the others as they are"
    lines = [f"{title_of(answer.made)}: {len(answer.corners) - 1:,} corners, {how}", ""]
    lines += table(
        [("", "varies", "from", "to"), *((f"{n}", safe(f.label), f.low, f.high) for n, f in _numbered(answer))],
        ["right", "left", "right", "right"],
    )
    heads = ("", "lane", "as it is", "worst", "verdict", "failing", *(f"by {n}" for n, _ in _numbered(answer)))
    right: list[Align] = ["right"] * len(answer.factors)
    aligns: list[Align] = ["left", "left", "right", "right", "left", "right", *right]
    rows = [
        (
            SIGNS[lane.worst.verdict], safe(lane.lane), guards_text(lane.nominal.margin_guards),
            guards_text(lane.worst.margin_guards), lane.worst.verdict, f"{lane.failing}",
            *map(guards_text, lane.effect_guards),
        )
        for lane in answer.lanes
    ]  # fmt: skip
    lines += ["", *table([heads, *rows], aligns), ""]
    for lane in answer.lanes:
        lines += indented(f"{lane.lane} is worst with {lane.worst_at or 'nothing deviating'}.")
    lines += ["", "By a number: how much more margin its upper end leaves than its lower end."]
    return "\n".join([*lines, "", *scale_text(guard), *made_text(answer.made)]) + "\n"


def _rows(answer: CornersAnswer) -> Iterator[Cells]:
    """Head and one row a corner and lane; deviations are shares, or in each tolerance's unit."""
    yield (
        "corner", *(factor.label for factor in answer.factors), "lane", "height_v", "width_ui", "margin_height_v",
        "margin_width_ui", "verdict", "margin_guards",
    )  # fmt: skip
    for number, corner in enumerate(answer.corners):
        for lane in corner.lanes:
            yield (
                number, *corner.deviations, lane.lane, lane.height_v, lane.width_ui, lane.margin_height_v,
                lane.margin_width_ui, lane.verdict, lane.margin_guards,
            )  # fmt: skip


def _numbered(answer: CornersAnswer) -> list[tuple[int, CornerFactor]]:
    return list(enumerate(answer.factors, 1))
