"""The position study: where along its lanes a device should stand, and whether it is needed."""

from collections.abc import Iterator, Sequence
from functools import partial

from workbench.board.model import Board, Guard
from workbench.layout import Align, safe
from workbench.parts.conditioners.controls import Settings, controls_in, first_position
from workbench.quantity import in_column, length_column, show
from workbench.studies import forms
from workbench.studies.forms import FIRST, POSITIONS
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import UNHURRIED, Effort
from workbench.studies.pool.size import LIMIT
from workbench.studies.position import PositionAnswer, PositionPoint, placed, position_study
from workbench.studies.presentation import (
    MARGIN_HEADS,
    MOST_ROWS,
    CurveLine,
    CurvePicture,
    Point,
    Presentation,
    TableRow,
    guards_words,
    margin_cells,
    margin_paths,
    settings_words,
)
from workbench.studies.study import Cells, Study, Values
from workbench.studies.tables import (
    guards_text,
    indented,
    lanes_table,
    made_text,
    scale_text,
    table,
    title_of,
)

MOST_COLUMNS = 8
"""Settings side by side in the text; of more, the best ones."""
_TEXT_ROWS = 26

class PositionStudy(Study):
    """Where along its lanes a device should stand."""

    place = 20
    word, purpose, fields = forms.POSITION
    title, about = "Position", "device"

    def values(self, subject: str, typed: str = "") -> Values:
        """Every position with every equalization."""
        del typed
        return {"device": subject}

    def answer(
        self, basis: Basis, values: Values, *, limit: int = LIMIT, effort: Effort = UNHURRIED
    ) -> PositionAnswer:
        """Where the device should stand; raises StudyError."""
        return position_study(
            basis, values["device"], from_m=values.get("from_m"), to_m=values.get("to_m"),
            positions=values.get("positions", POSITIONS), settings=values.get("settings", FIRST), limit=limit,
            effort=effort,
        )  # fmt: skip

    def present(self, answer: PositionAnswer) -> Presentation:
        """Margin against position for each equalization, and whether a conditioner is needed at all."""
        lines = tuple(
            CurveLine(_curve_name(answer, settings), _along(answer, answer.curve(settings)))
            for settings in answer.settings
        )
        needs = " ".join(f"{need.said}." for need in answer.needs[:2])
        rows = sorted(answer.points, key=lambda point: -point.margin_guards)[:MOST_ROWS]
        return Presentation(
            sentence=f"{answer.sentence()}. {needs}".strip(),
            picture=CurvePicture("shift towards the receivers", "m", answer.shifts_m, lines),
            heads=("shift", next(iter(answer.best.settings), "as it is"), "worst lane", *MARGIN_HEADS, "verdict"),
            rows=tuple(_position_row(answer, point) for point in rows),
            edit=answer.edit,
            edit_name=f"move {answer.device}",
        )

    def text(self, answer: PositionAnswer, guard: Guard) -> str:
        """Best position, curves, windows and whether a conditioner is needed."""
        return _text(answer, guard)

    def rows(self, answer: PositionAnswer) -> Iterator[Cells]:
        """One row for each setting, position and lane."""
        return _rows(answer)

    def applied(self, answer: PositionAnswer, board: Board) -> Board:
        """The device at its best position and setting; raises EditError where it does not fit."""
        return answer.edit(board)

    def passes(self, answer: PositionAnswer) -> bool:
        """Whether every lane passes at the best position."""
        return all(lane.verdict == "pass" for lane in answer.best.lanes)


def _curve_name(answer: PositionAnswer, settings: Settings) -> str:
    """The first position; where channels are at their own best, that and what they share."""
    own = controls_in(one.settings for one in answer.best.channels)
    return " ".join((f"best {own[0]}s", *settings.values())) if own else first_position(settings)


def _set_words(point: PositionPoint) -> str:
    """How the device is set at a point, its channels where they are set by themselves."""
    own = (f"channel {one.channel} {settings_words(one.settings)}" for one in point.channels)
    return "; ".join(filter(None, (settings_words(point.settings), *own)))


def _along(answer: PositionAnswer, points: Sequence[PositionPoint]) -> tuple[Point | None, ...]:
    known = {point.shift_m: point for point in points}
    places = {id(point): number for number, point in enumerate(answer.points)}
    return tuple(
        _position_point(answer, known[x], f"points[{places[id(known[x])]}]") if x in known else None
        for x in answer.shifts_m
    )


def _position_point(answer: PositionAnswer, point: PositionPoint, place: str) -> Point:
    marked = "best" if point is answer.best else "now" if point == answer.current else ""
    words = (
        f"{answer.device} {show(point.shift_m, 'm', digits=3)}, {_set_words(point)}: {point.worst.lane} "
        f"normalized margin {guards_words(point.margin_guards)}, {point.worst.verdict}"
    )
    return Point(words, point.margin_guards, partial(placed, ref=answer.device, point=point), marked,
                 judged=point.worst.verdict != "not judged", figure=f"{place}.margin_guards")


def _position_row(answer: PositionAnswer, point: PositionPoint) -> TableRow:
    cells = (show(point.shift_m, "m", digits=3), _curve_name(answer, point.settings), point.worst.lane,
             *margin_cells(point.worst), point.worst.verdict)  # fmt: skip
    at = f"points[{next(n for n, one in enumerate(answer.points) if one is point)}]"
    margins = margin_paths(f"{at}.lanes[{point.lanes.index(point.worst)}]", point.worst)
    return TableRow(cells, _position_point(answer, point, at), (f"{at}.shift_m", "", "", *margins, ""))


def _text(answer: PositionAnswer, guard: Guard) -> str:
    """Best position, curves, windows and whether a conditioner is needed, as lines of text.

    Args:
        answer: what was found.
        guard: the board's guard bands, which margins are counted in.
    """
    lines = [f"{title_of(answer.made)}: where {safe(answer.device)} should stand", ""]
    lines += indented(f"{answer.sentence()}.")
    lines += indented(f"Best setting: {_set_words(answer.best) or 'as it is'}.")
    if answer.current is not None:
        now = answer.current
        lines += indented(f"As it is: {now.worst.lane} {guards_text(now.margin_guards)} ({now.worst.verdict}).")
    lines += ["", *lanes_table(answer.best.lanes), "", *_curves(answer)]
    if answer.needs:
        lines += ["", "Is a conditioner needed, and is one enough?"]
        lines += [line for need in answer.needs for line in indented(f"{need.said}.")]
    lines += ["", *scale_text(guard), *made_text(answer.made)]
    return "\n".join(lines) + "\n"


def _rows(answer: PositionAnswer) -> Iterator[Cells]:
    """Head and one row a setting, position and lane; SI units in the column names."""
    controls = controls_in(answer.settings)
    yield (
        "device", *controls, "shift_m", "best", "lane", "height_v", "width_ui", "margin_height_v", "margin_width_ui",
        "verdict", "lane_margin_guards", "worst_margin_guards",
    )  # fmt: skip
    for point in answer.points:
        chosen = tuple(point.settings[control] for control in controls)
        for lane in point.lanes:
            yield (
                answer.device, *chosen, point.shift_m, int(point is answer.best), lane.lane, lane.height_v,
                lane.width_ui, lane.margin_height_v, lane.margin_width_ui, lane.verdict, lane.margin_guards,
                point.margin_guards,
            )  # fmt: skip


def _curves(answer: PositionAnswer) -> list[str]:
    """The worst lane's margin, a row a position and a column a setting."""
    largest = {
        settings: max((point.margin_guards for point in answer.curve(settings)), default=float("-inf"))
        for settings in answer.settings
    }
    best = sorted(answer.settings, key=lambda settings: -largest[settings])[:MOST_COLUMNS]
    shown = [settings for settings in answer.settings if settings in best]
    known = {(point.settings, point.shift_m): point.margin_guards for point in answer.points}
    every = -(-len(answer.shifts_m) // _TEXT_ROWS)
    kept = {0.0, answer.best.shift_m, answer.shifts_m[-1]}
    shifts = [shift for n, shift in enumerate(answer.shifts_m) if n % every == 0 or shift in kept]
    unit = length_column()[0]
    heads = (f"shift {unit}", *(_short(answer, settings) for settings in shown))
    rows = [
        (in_column(shift, signed=True), *(guards_text(known.get((one, shift))) for one in shown)) for shift in shifts
    ]  # fmt: skip
    windows = (
        f"window {unit}",
        *(
            " & ".join(
                f"{in_column(window.from_m, signed=True)}..{in_column(window.to_m, signed=True)}"
                for window in answer.windows if window.settings == settings
            ) or "none"
            for settings in shown
        ),
    )  # fmt: skip
    aligns: list[Align] = ["right"] * (len(shown) + 1)
    varied = _varied(answer)
    by = f" by {', '.join(varied)}" if varied else ""
    note = f"The worst lane's margin{by}; positive shifts are towards the receivers"
    left_out = len(answer.settings) - len(shown)
    counted = f" ({left_out} settings with smaller margins are only in --csv)" if left_out else ""
    return [note + counted, *table([heads, *rows, windows], aligns)]


def _short(answer: PositionAnswer, settings: Settings) -> str:
    """What tells a setting from the others that were tried."""
    if answer.best.channels:
        return safe(_curve_name(answer, settings))
    return safe("/".join(settings[control] for control in _varied(answer))) or "as set"


def _varied(answer: PositionAnswer) -> list[str]:
    return [control for control in controls_in(answer.settings) if len({one[control] for one in answer.settings}) > 1]
