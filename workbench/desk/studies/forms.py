"""The questions that the window asks about straps, places and lengths; the list at the end is all questions."""

from collections.abc import Sequence
from functools import partial
from typing import Any

from workbench.board.model import Board, Run, Settings
from workbench.desk.studies.form_base import Asking
from workbench.desk.studies.margin_forms import BudgetAsking, CornersAsking, YieldAsking
from workbench.desk.studies.work import Ask
from workbench.parts.conditioner import CONTROLS
from workbench.quantity import show
from workbench.studies.pool.jobs import Question
from workbench.studies.position import PositionAnswer, PositionPoint, placed, position_study
from workbench.studies.presentation import (
    CurvePicture,
    Line,
    MapPicture,
    Picture,
    Point,
    Row,
    Told,
    guards_words,
)
from workbench.studies.reach import ReachAnswer, ReachRow, reach_study
from workbench.studies.setting_search.answer import Candidate, GroupAnswer, SettingsAnswer, with_settings
from workbench.studies.settings import settings_study

MOST_ROWS = 200
_GUARDS = "guard bands"


class SettingsAsking(Asking):
    """Which strap settings serve all lanes of a device."""

    word, title, about = "settings", "Strap settings", "device"

    def ask(self, question: Question, subject: str, typed: str = "") -> Ask:
        """All positions of all straps."""
        del typed
        return lambda effort: settings_study(question, (subject,), effort=effort)

    def told(self, answer: SettingsAnswer) -> Told:
        """A map over equalization and whatever else varies, the ranking, the recommended setting."""
        group = answer.groups[0]
        rows = tuple(_candidate_row(n, one, group) for n, one in enumerate(group.candidates[:MOST_ROWS], start=1))
        return Told(
            sentence=f"{group.devices[0]}, {_settings_words(group.recommended.settings[0].settings)}: {group.reason}.",
            picture=_settings_map(group),
            heads=("rank", *CONTROLS, "worst lane", _GUARDS, "verdict"),
            rows=rows,
            edit=answer.edit,
            edit_name=f"settings of {', '.join(group.devices)}",
        )

    def growing(self, answer: SettingsAnswer) -> Told:
        """The map holds the best so far over the third strap: a slice would be another with every new best."""
        return self.told(answer)._replace(picture=_growing_map(answer.groups[0]))


def _candidate_row(rank: int, one: Candidate, group: GroupAnswer) -> Row:
    settings = one.settings[0].settings
    cells = (str(rank), *(getattr(settings, control) for control in CONTROLS), one.worst.lane,
             guards_words(one.margin_guards), one.worst.verdict)  # fmt: skip
    return Row(cells, _candidate_point(one, group))


def _candidate_point(one: Candidate, group: GroupAnswer) -> Point:
    marked = "best" if one is group.recommended else "now" if one == group.current else ""
    words = (
        f"{_settings_words(one.settings[0].settings)}: {one.worst.lane} {guards_words(one.margin_guards)} guard bands, "
        f"{one.worst.verdict}"
    )
    return Point(words, one.margin_guards, partial(_set, settings=one.settings), marked)


def _set(board: Board, settings: Any) -> Board:  # noqa: ANN401 - a tuple of device settings
    return with_settings(board, settings)


def _settings_map(group: GroupAnswer) -> Picture:
    """A slice through the recommended setting."""
    *_, third = _map_controls(group)
    chosen = getattr(group.recommended.settings[0].settings, third)
    return _mapped(group, [one for one in group.candidates if getattr(one.settings[0].settings, third) == chosen])


def _growing_map(group: GroupAnswer) -> Picture:
    """The best over the third strap."""
    return _mapped(group, group.candidates)


def _map_controls(group: GroupAnswer) -> tuple[str, str, str]:
    """The two straps with the most positions, and the third; one strap alone is a map of one row."""
    counts = {control: len(group.positions[0][n]) for n, control in enumerate(CONTROLS)}
    across, down, third = sorted(CONTROLS, key=lambda control: -counts[control])
    return across, down, third


def _mapped(group: GroupAnswer, ranked: Sequence[Candidate]) -> Picture:
    """Candidates, the best first, in their cells."""
    across, down, _ = _map_controls(group)
    columns, rows = (group.positions[0][CONTROLS.index(control)] for control in (across, down))
    by_place: dict[tuple[str, str], Candidate] = {}
    for one in ranked:
        settings = one.settings[0].settings
        by_place.setdefault((getattr(settings, across), getattr(settings, down)), one)
    points = tuple(
        tuple(
            _candidate_point(by_place[column, row], group) if (column, row) in by_place else None for column in columns
        )
        for row in rows
    )
    return MapPicture(across, down, columns, rows, points)


class PositionForm(Asking):
    """Where along its lanes a device should stand."""

    word, title, about = "position", "Position", "device"

    def ask(self, question: Question, subject: str, typed: str = "") -> Ask:
        """Every position with every equalization."""
        del typed
        return lambda effort: position_study(question, subject, effort=effort)

    def told(self, answer: PositionAnswer) -> Told:
        """Margin against position for each equalization, and whether a conditioner is needed at all."""
        lines = tuple(
            Line(settings.equalization, _along(answer, answer.curve(settings))) for settings in answer.settings
        )
        needs = " ".join(f"{need.said}." for need in answer.needs[:2])
        rows = sorted(answer.points, key=lambda point: -point.margin_guards)[:MOST_ROWS]
        return Told(
            sentence=f"{answer.reason}. {needs}".strip(),
            picture=CurvePicture("shift towards the receivers", "m", answer.shifts_m, lines),
            heads=("shift", "equalization", "worst lane", _GUARDS, "verdict"),
            rows=tuple(_position_row(answer, point) for point in rows),
            edit=answer.edit,
            edit_name=f"place {answer.device}",
        )


def _along(answer: PositionAnswer, points: Sequence[PositionPoint]) -> tuple[Point | None, ...]:
    known = {point.shift_m: point for point in points}
    return tuple(_position_point(answer, known[x]) if x in known else None for x in answer.shifts_m)


def _position_point(answer: PositionAnswer, point: PositionPoint) -> Point:
    marked = "best" if point is answer.best else "now" if point == answer.current else ""
    words = (
        f"{answer.device} {show(point.shift_m, 'm', digits=3)}, {_settings_words(point.settings)}: {point.worst.lane} "
        f"{guards_words(point.margin_guards)} guard bands, {point.worst.verdict}"
    )
    return Point(words, point.margin_guards, partial(placed, ref=answer.device, point=point), marked)


def _position_row(answer: PositionAnswer, point: PositionPoint) -> Row:
    cells = (show(point.shift_m, "m", digits=3), point.settings.equalization, point.worst.lane,
             guards_words(point.margin_guards), point.worst.verdict)  # fmt: skip
    return Row(cells, _position_point(answer, point))


class ReachAsking(Asking):
    """How long a run may get."""

    word, title, about = "reach", "Reach", "run"

    def subjects(self, board: Board, lane: str) -> tuple[str, ...]:
        """The lines and cables that lanes run over, the current lane's first; what a lane has twice by its place."""
        lanes = sorted(board.lanes, key=lambda one: one.name != lane)
        most: dict[str, int] = {}
        for one in lanes:
            names = [p.line for p in one.path if isinstance(p, Run)]
            for name in names:
                most[name] = max(most.get(name, 0), names.count(name))
        return tuple(
            name if count == 1 else f"{name}:{place}" for name, count in most.items() for place in range(1, count + 1)
        )

    def own(self, board: Board, lane: str) -> tuple[str, ...]:
        """The lane's runs, the longest first."""
        path = next((one.path for one in board.lanes if one.name == lane), ())
        runs = sorted((p for p in path if isinstance(p, Run)), key=lambda run: -run.length_m)
        return tuple(name for run in runs for name in (run.line, f"{run.line}:1"))

    def ask(self, question: Question, subject: str, typed: str = "") -> Ask:
        """Every lane that runs over it, without conditioners and as it is set."""
        del typed
        return lambda effort: reach_study(question, subject, effort=effort)

    def told(self, answer: ReachAnswer) -> Told:
        """Margin against length for every lane, and how far each reaches."""
        shown = [row for row in answer.rows if row.found.lengths_m]
        return Told(
            sentence=_reach_sentence(answer),
            picture=_reach_curves(shown),
            heads=("lane", "interface", "conditioner", "length now", "reaches"),
            rows=tuple(_reach_row(row) for row in answer.rows[:MOST_ROWS]),
        )


def _reach_sentence(answer: ReachAnswer) -> str:
    limits = [row for row in answer.rows if row.reach_m is not None and not row.unlimited]
    if not limits:
        return f"{answer.run}: no lane's reach ends within the lengths that were looked at."
    least = min(limits, key=lambda row: row.reach_m or 0.0)
    reach = show(least.reach_m or 0.0, "m", digits=4)
    return f"{answer.run}: {least.lane} ({_how(least)}) reaches {reach}, the least of all."


def _reach_curves(rows: Sequence[ReachRow]) -> Picture | None:
    """Lengths differ from lane to lane: all of them on one axis, each line where it was looked."""
    if not rows:
        return None
    x = tuple(sorted({length for row in rows for length in row.found.lengths_m}))
    lines = []
    for row in rows[:8]:
        known = dict(zip(row.found.lengths_m, row.found.margin_guards, strict=True))
        points = tuple(_reach_point(row, at, known[at]) if at in known else None for at in x)
        lines.append(Line(f"{row.lane}, {_how(row)}", points))
    return CurvePicture("length", "m", x, tuple(lines), common=False)


def _reach_point(row: ReachRow, length_m: float, margin: float) -> Point:
    words = f"{row.lane} ({_how(row)}) at {show(length_m, 'm', digits=4)}: {guards_words(margin)} guard bands"
    return Point(words, margin)


def _reach_row(row: ReachRow) -> Row:
    reaches = "nowhere" if row.reach_m is None else show(row.reach_m, "m", digits=4)
    if row.unlimited and row.reach_m is not None:
        reaches = f"{reaches} or more"
    return Row((row.lane, row.profile, _how(row), show(row.length_m, "m", digits=4), reaches))


def _how(row: ReachRow) -> str:
    return "passive" if row.device is None or row.settings is None else f"{row.device} {row.settings.equalization}"


def _settings_words(settings: Settings) -> str:
    return ", ".join(f"{control} {getattr(settings, control)}" for control in CONTROLS)


ASKINGS: tuple[Asking, ...] = (
    SettingsAsking(), PositionForm(), ReachAsking(), CornersAsking(), YieldAsking(), BudgetAsking(),
)  # fmt: skip
