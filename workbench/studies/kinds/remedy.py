"""The remedy study: what would make a lane pass."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from workbench.board.edits.taking import PartsLibrary
from workbench.board.model import Board, Guard
from workbench.board.user_library import UserLibrary
from workbench.errors import StudyError
from workbench.layout import Align, safe
from workbench.studies import forms
from workbench.studies.figures import LaneFigures
from workbench.studies.forms import CLASSES, TypedField
from workbench.studies.kinds.fields import OfLanes, lanes_of
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import UNHURRIED, Effort
from workbench.studies.pool.size import LIMIT
from workbench.studies.presentation import (
    MARGIN_HEADS,
    MOST_ROWS,
    Point,
    Presentation,
    TableRow,
    margin_cells,
    margin_paths,
)
from workbench.studies.remedies.answer import LaneRemedies, RemedyAnswer, RemedyEffect, RemedyOffer
from workbench.studies.remedies.offered import NO_LIBRARY
from workbench.studies.remedies.search import remedy_study
from workbench.studies.remedies.worst import AS_IT_IS
from workbench.studies.study import Cells, Study, Values
from workbench.studies.tables import guards_text, indented, made_text, scale_text, table, title_of
from workbench.studies.variation.tolerances import range_words, tolerance_from_text
from workbench.wording import any_of, counted, quoted, quoted_path


def classes_from_text(typed: str) -> tuple[str, ...]:
    """Classes of changes with commas between them, each once, in their order.

    Raises:
        StudyError: one of them is none.
    """
    words = tuple(dict.fromkeys(word.strip() for word in typed.split(",")))
    for word in words:
        if word not in CLASSES:
            raise StudyError(f"there is no class of changes {quoted(word)}; choose {any_of(CLASSES)}")
    return words


def library_in(folder: str) -> PartsLibrary:
    """The entries of a library of the user's own, and their sources.

    Args:
        folder: where they are.

    Raises:
        StudyError: there is no such folder, or a file in it can't be read.
    """
    library = UserLibrary(Path(folder).expanduser())
    if not library.folder.is_dir():
        raise StudyError(f"there is no folder {quoted_path(library.folder)}; name the one that your library is in")
    parts = library.parts()
    if library.faults:
        raise StudyError(f"{library.faults[0]}; remove or mend it")
    return parts


_CORNERS, _LIBRARY = "corners ", "library "
"""What begins the further parts of what is typed."""


class RemedyStudy(OfLanes, Study):
    """What to change so that lanes pass, the cheapest class of changes first."""

    place = 70
    word, purpose, fields = forms.REMEDY
    title = "Make it pass"
    typed = TypedField(", ".join(CLASSES), "What may be changed, tried in this order", CLASSES)
    rows_stand = True

    def values(self, subject: str, typed: str = "") -> Values:
        """The lane, or all that do not pass, the classes that are allowed, corners and a library; raises StudyError."""
        classes, *further = typed.split(";") if typed else [""]
        values: dict[str, Any] = {"lanes": lanes_of(subject)}
        if classes.strip():
            values["allow"] = classes_from_text(classes)
        for part in map(str.lstrip, further):
            if part.startswith(_CORNERS):
                values["corners"] = tuple(map(tolerance_from_text, part.removeprefix(_CORNERS).split(",")))
            elif part.startswith(_LIBRARY):
                values["library"] = library_in(part.removeprefix(_LIBRARY).strip())
        return values

    def answer(self, basis: Basis, values: Values, *, limit: int = LIMIT, effort: Effort = UNHURRIED) -> RemedyAnswer:
        """What makes the lanes pass; raises StudyError."""
        return remedy_study(
            basis, lanes=values.get("lanes"), allow=values.get("allow") or CLASSES,
            tolerances=tuple(values.get("corners") or ()), library=values.get("library") or NO_LIBRARY, limit=limit,
            effort=effort,
        )  # fmt: skip

    def present(self, answer: RemedyAnswer) -> Presentation:
        """Every answer as a row that shows its variant in the panes."""
        corners = CORNER_HEADS if answer.tolerances else ()
        heads = (
            "lane", "before", *MARGIN_HEADS, "worst neighbour", "class", "change", "requires", "other lanes", *corners,
        )  # fmt: skip
        rows = tuple(
            _row(offer, f"lanes[{number}].{place}")
            for number, lane in enumerate(answer.lanes) for place, offer in _placed(lane)
        )  # fmt: skip
        edit = answer.edit if any(lane.chosen for lane in answer.lanes) else None
        return Presentation(_sentence(answer), None, heads, rows[:MOST_ROWS], edit, "make it pass")

    def text(self, answer: RemedyAnswer, guard: Guard) -> str:
        """Every lane with its answers."""
        return _text(answer, guard)

    def rows(self, answer: RemedyAnswer) -> Iterator[Cells]:
        """One row for each answer, lane that it touches and corner."""
        return _rows(answer)

    def applied(self, answer: RemedyAnswer, board: Board) -> Board:
        """The board with the cheapest cure of every lane.

        Raises:
            StudyError: no lane has one.
        """
        if all(lane.chosen is None for lane in answer.lanes):
            raise StudyError(
                "no change was found that makes a lane pass, so there is nothing to write; omit --board-out"
            )
        return answer.edit(board)

    def passes(self, answer: RemedyAnswer) -> bool:
        """Whether every lane passes, or is made to."""
        return all(one.lane.verdict == "pass" or one.chosen is not None for one in answer.lanes)


def _sentence(answer: RemedyAnswer) -> str:
    where = corners_words(answer)
    if not answer.lanes:
        return f"Every lane passes as it is{where}."
    # What can be done something about comes first: lanes that are not judged have nothing to say but that.
    lanes = sorted(answer.lanes, key=lambda lane: lane.lane.verdict == "not judged")[:4]
    said = " ".join(f"{words}." for lane in lanes for words in (lane.said, *lane.left_out))
    return f"{said} All margins are those{where}." if where else said


def corners_words(answer: RemedyAnswer) -> str:
    """Where the margins hold, as " at the worst of 4 corners (impedance ±10 %)"; "" for the board as it is."""
    if not answer.tolerances:
        return ""
    varied = ", ".join(f"{one.on} {range_words(one)}" for one in answer.tolerances)
    return f" at the worst of the board and its {counted(answer.corners - 1, 'corner')} ({varied})"


def _offers(lane: LaneRemedies) -> tuple[RemedyOffer, ...]:
    return lane.offers or ((lane.nearest,) if lane.nearest is not None else ())


def _placed(lane: LaneRemedies) -> Iterator[tuple[str, RemedyOffer]]:
    """What is told of a lane, with where it stands below it in the answer's JSON."""
    for number, offer in enumerate(lane.offers):
        yield f"offers[{number}]", offer
    if not lane.offers and lane.nearest is not None:
        yield "nearest", lane.nearest


def _row(offer: RemedyOffer, place: str) -> TableRow:
    before, after = offer.lane.before, offer.lane.after
    cells = (
        after.lane, guards_text(before.margin_guards), *margin_cells(after), guards_text(offer.nearby_guards),
        offer.kinds, offer.words, offer.cost or "nothing", _others_words(offer),
    )  # fmt: skip
    words = f"{after.lane}: {offer.words}, normalized margin {guards_text(after.margin_guards)}"
    figures = (
        "", f"{place}.lane.before.margin_guards", *margin_paths(f"{place}.lane.after", after),
        f"{place}.nearby_guards", "", "", "", "",
    )  # fmt: skip
    at, at_figures = _corner_cells(offer.lane, f"{place}.lane")
    point = Point(words, after.margin_guards, offer.edit, figure=f"{place}.lane.after.margin_guards")
    return TableRow((*cells, *at), point, (*figures, *at_figures))


CORNER_HEADS = ("as it is: before", "after", "worst before", "worst after")
"""Further columns where tolerances vary: the lane with nothing deviating, and where its margins hold."""


def _corner_cells(effect: RemedyEffect, place: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Cells under `CORNER_HEADS`, and the paths of their figures; none where nothing varies."""
    if not effect.corners:
        return (), ()
    plain = effect.corners[0]
    cells = (
        guards_text(plain.before.margin_guards), guards_text(plain.after.margin_guards), effect.worst_before,
        effect.worst_after,
    )  # fmt: skip
    return cells, (*(f"{place}.corners[0].{when}.margin_guards" for when in ("before", "after")), "", "")


def _others_words(offer: RemedyOffer) -> str:
    if offer.harms:
        return f"worse: {', '.join(offer.harms)}"
    return f"{counted(len(offer.others), 'lane')} touched, no verdict worse" if offer.others else "none touched"


def _text(answer: RemedyAnswer, guard: Guard) -> str:
    """Every lane with its answers, as lines of text.

    Args:
        answer: what was found.
        guard: the board's guard bands, which margins are counted in.
    """
    where = corners_words(answer)
    lines = [f"{title_of(answer.made)}: what would make its lanes pass", ""]
    if where:
        lines += [*indented(f"All margins are those{where}."), ""]
    if not answer.lanes:
        lines += [f"Every lane passes as it is{where}.", ""]
    for lane in answer.lanes:
        lines += [*_lane_text(lane), ""]
    return "\n".join([*lines, *scale_text(guard), *made_text(answer.made)]) + "\n"


def _lane_text(lane: LaneRemedies) -> list[str]:
    lines = indented(f"{lane.said}.")
    for number, offer in enumerate(lane.offers, 1):
        lines += ["", *_offer_text(f"{number}. {offer.words}", offer)]
    if lane.nearest is not None:
        lines += ["", *_offer_text(f"Nearest miss: {lane.nearest.words}", lane.nearest)]
    tried = "; ".join(
        f"{one.kind}: {one.count}" + ("" if one.best_guards is None else f", the best {one.best_guards:+z.2f}")
        for one in lane.tried
    )
    if tried:
        lines += ["", *indented(f"Tried: {tried}.")]
    return [*lines, *(part for words in lane.left_out for part in indented(f"Cut short: {words}."))]


def _offer_text(words: str, offer: RemedyOffer) -> list[str]:
    after = offer.lane.after
    near = "no step to either side is known" if offer.nearby_guards is None else (
        f"one step to either side leaves {offer.nearby_guards:+z.2f} or more"
    )  # fmt: skip
    cost = f"; it requires {offer.cost}" if offer.cost else ""
    stands = (
        f"{offer.kinds}: from {offer.lane.before.margin_guards:+z.2f} to {after.margin_guards:+z.2f} "
        f"({after.verdict}); {near}{cost}."
    )
    lines = [*indented(f"{words}."), *indented(stands)]
    if offer.harms:
        lines += indented(f"BEWARE: it makes {', '.join(offer.harms)} worse.")
    if not offer.others:
        return [*lines, *_corners_text(offer.lane), *indented("It touches no other lane.")]
    aligns: list[Align] = ["left", "right", "right", "left"]
    heads = ("other lane", "before", "after", "verdict")
    rows = [(safe(one.after.lane), *_became(one.before, one.after)) for one in offer.others]
    return [*lines, *_corners_text(offer.lane), *table([heads, *rows], aligns)]


def _corners_text(effect: RemedyEffect) -> list[str]:
    """The lane at every corner, before and after, the worst of each marked; nothing where nothing varies."""
    if not effect.corners:
        return []
    aligns: list[Align] = ["left", "right", "right", "left"]
    rows = [
        (safe(one.corner) + (" (worst)" if one.corner == effect.worst_after else ""), *_became(one.before, one.after))
        for one in effect.corners
    ]
    return table([("at", "before", "after", "verdict"), *rows], aligns)


def _became(before: LaneFigures, after: LaneFigures) -> tuple[str, str, str]:
    """Both margins, and the verdict or what became of it."""
    verdict = after.verdict if before.verdict == after.verdict else f"{before.verdict} to {after.verdict}"
    return guards_text(before.margin_guards), guards_text(after.margin_guards), verdict


def _rows(answer: RemedyAnswer) -> Iterator[Cells]:
    yield (
        "for_lane", "answer", "change", "class", "cures", "nearby_guards", "lane", "before_guards", "after_guards",
        "before_verdict", "after_verdict", "power_w", "corner",
    )  # fmt: skip
    for lane in answer.lanes:
        for number, offer in enumerate(_offers(lane), 1):
            about = (lane.lane.lane, number, offer.words, offer.kinds, int(offer.cures), offer.nearby_guards)
            for effect in (offer.lane, *offer.others):
                for corner, before, after in _at_each(effect):
                    yield (
                        *about, after.lane, before.margin_guards, after.margin_guards, before.verdict, after.verdict,
                        offer.power_w, corner,
                    )  # fmt: skip


def _at_each(effect: RemedyEffect) -> Iterator[tuple[str, LaneFigures, LaneFigures]]:
    """Every corner with the lane before and after, or the lane as it is."""
    if not effect.corners:
        yield AS_IT_IS, effect.before, effect.after
    for one in effect.corners:
        yield one.corner, one.before, one.after
