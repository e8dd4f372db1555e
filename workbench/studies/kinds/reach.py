"""The reach study: how long a run may get."""

from collections.abc import Iterator, Sequence

from workbench.board.model import Board, Guard, Run
from workbench.errors import StudyError
from workbench.layout import Align, safe
from workbench.parts.conditioners.controls import controls_in, first_position, first_words
from workbench.quantity import in_column, length_column, show
from workbench.studies import forms
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import UNHURRIED, Effort
from workbench.studies.pool.size import LIMIT
from workbench.studies.presentation import (
    MOST_ROWS,
    CurveLine,
    CurvePicture,
    Picture,
    Point,
    Presentation,
    TableRow,
    guards_words,
)
from workbench.studies.reach import ReachAnswer, ReachRow, reach_study, with_reach
from workbench.studies.study import Cells, Study, Values
from workbench.studies.tables import UNKNOWN, indented, made_text, scale_text, table, title_of


class ReachStudy(Study):
    """How long a run may get."""

    place = 30
    word, purpose, fields = forms.REACH
    title, about = "Reach", "run"

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

    def values(self, subject: str, typed: str = "") -> Values:
        """Every lane that runs over it, without conditioners and as it is set."""
        del typed
        return {"run": subject}

    def answer(self, basis: Basis, values: Values, *, limit: int = LIMIT, effort: Effort = UNHURRIED) -> ReachAnswer:
        """How long the run may get; raises StudyError."""
        return reach_study(
            basis, values["run"], lanes=values.get("lanes"), settings=values.get("settings", "current"),
            profiles=values.get("profiles"), longest_m=values.get("longest_m"),
            least_guards=1.0 if values.get("keep_guard") else 0.0, limit=limit, effort=effort,
        )  # fmt: skip

    def present(self, answer: ReachAnswer) -> Presentation:
        """Margin against length for every lane, and how far each reaches."""
        shown = [(number, row) for number, row in enumerate(answer.rows) if row.found.lengths_m]
        return Presentation(
            sentence=_reach_sentence(answer),
            picture=_reach_curves(shown),
            heads=("lane", "interface", "conditioner", "length now", "reaches", "gained"),
            rows=tuple(_reach_row(row, n) for n, row in enumerate(answer.rows[:MOST_ROWS])),
        )

    def text(self, answer: ReachAnswer, guard: Guard) -> str:
        """Every lane's reach without and with conditioners side by side."""
        return _text(answer, guard)

    def rows(self, answer: ReachAnswer) -> Iterator[Cells]:
        """One row for each lane, interface and setting."""
        return _rows(answer)

    def applied(self, answer: ReachAnswer, board: Board) -> Board:
        """Every lane's run as long as it may be.

        Raises:
            StudyError: several settings or interfaces were tried, and which to take is not said.
        """
        rows = [row for row in answer.rows if row.device is not None and row.reach_m is not None]
        if len({row.lane for row in rows}) < len(rows):
            raise StudyError("a board holds one setting and one interface per lane; ask with one of each to write it")
        for row in rows:
            board = with_reach(board, row)
        return board

    def passes(self, answer: ReachAnswer) -> bool:
        """Whether every run may be as long as it is."""
        rows = [row for row in answer.rows if row.device]
        return all(row.reach_m is not None and row.reach_m >= row.length_m for row in rows)


def _reach_sentence(answer: ReachAnswer) -> str:
    limits = [row for row in answer.rows if row.reach_m is not None and not row.unlimited]
    if not limits:
        return f"{answer.run}: no lane's reach ends within the lengths that were looked at."
    least = min(limits, key=lambda row: row.reach_m or 0.0)
    reach = show(least.reach_m or 0.0, "m", digits=4)
    return f"{answer.run}: {least.lane} ({_how(least)}) reaches {reach}, the shortest of all."


def _reach_curves(rows: Sequence[tuple[int, ReachRow]]) -> Picture | None:
    """Numbered rows; lengths differ from lane to lane: all of them on one axis, each line where it was looked."""
    if not rows:
        return None
    x = tuple(sorted({length for _, row in rows for length in row.found.lengths_m}))
    lines = []
    for number, row in rows[:8]:
        known = {length: at for at, length in enumerate(row.found.lengths_m)}
        points = tuple(_reach_point(row, number, known[at]) if at in known else None for at in x)
        lines.append(CurveLine(f"{row.lane}, {_how(row)}", points))
    return CurvePicture("length", "m", x, tuple(lines), common=False)


def _reach_point(row: ReachRow, number: int, at: int) -> Point:
    """The margin at one of a row's lengths."""
    length_m, margin = row.found.lengths_m[at], row.found.margin_guards[at]
    words = f"{row.lane} ({_how(row)}) at {show(length_m, 'm', digits=4)}: normalized margin {guards_words(margin)}"
    return Point(words, margin, figure=f"rows[{number}].found.margin_guards[{at}]")


_SHOWN = ("length_m", "reach_m", "gained_m")


def _reach_row(row: ReachRow, number: int) -> TableRow:
    reaches = "nowhere" if row.reach_m is None else show(row.reach_m, "m", digits=4)
    if row.unlimited and row.reach_m is not None:
        reaches = f"{reaches} or more"
    gained = "" if row.gained_m is None else show(row.gained_m, "m", digits=4)
    cells = (row.lane, row.profile, _how(row), show(row.length_m, "m", digits=4), reaches, gained)
    return TableRow(cells, None, ("", "", "", *(f"rows[{number}].{field}" for field in _SHOWN)))


def _how(row: ReachRow) -> str:
    return "passive" if row.device is None or row.settings is None else f"{row.device} {first_position(row.settings)}"


def _text(answer: ReachAnswer, guard: Guard) -> str:
    """Every lane's reach without and with conditioners side by side, as lines of text.

    Args:
        answer: what was found.
        guard: the board's guard bands, which margins are counted in.
    """
    kept = "its limits" if answer.least_guards == 0.0 else f"a normalized margin of {answer.least_guards:g}"
    lines = [f"{title_of(answer.made)}: how long the run {safe(answer.run)} may get and every lane keep {kept}", ""]
    profiles_differ = len({row.profile for row in answer.rows}) > 1
    unit = length_column()[0]
    heads = ["lane", "interface", "run", f"now {unit}", f"passive {unit}", "device", "set to", f"reach {unit}",
             f"gained {unit}"]  # fmt: skip
    aligns: list[Align] = ["left", "left", "left", "right", "right", "left", "left", "right", "right"]
    rows = [_cells(row, _passive(answer, row)) for row in _with_conditioners(answer)]
    shown = [at for at in range(len(heads)) if at != 1 or profiles_differ]
    lines += table([[cells[at] for at in shown] for cells in (heads, *rows)], [aligns[at] for at in shown])
    lines += [line for row in answer.rows for line in _doubt(row)]
    lines += ["", *scale_text(guard), *made_text(answer.made)]
    return "\n".join(lines) + "\n"


def _rows(answer: ReachAnswer) -> Iterator[Cells]:
    """Head and one row a lane, interface and setting; SI units in the column names."""
    controls = controls_in(row.settings for row in answer.rows)
    yield (
        "lane", "profile", "place", "line", "length_m", "device", *controls, "reach_m", "unlimited", "monotone",
        "gained_m", "stretches_m",
    )  # fmt: skip
    for row in answer.rows:
        chosen = tuple(row.settings.get(control) if row.settings else None for control in controls)
        stretches = "; ".join(f"{one.from_m:g} to {one.to_m:g}" for one in row.found.stretches)
        yield (
            row.lane, row.profile, row.place, row.line, row.length_m, row.device or "none", *chosen, row.reach_m,
            int(row.unlimited), int(row.monotone), row.gained_m, stretches,
        )  # fmt: skip


def _with_conditioners(answer: ReachAnswer) -> list[ReachRow]:
    """The rows with conditioners, and those without of lanes that have none."""
    conditioned = {(row.lane, row.profile) for row in answer.rows if row.device is not None}
    return [row for row in answer.rows if row.device is not None or (row.lane, row.profile) not in conditioned]


def _passive(answer: ReachAnswer, row: ReachRow) -> ReachRow | None:
    key = row.lane, row.profile
    return next((one for one in answer.rows if one.device is None and (one.lane, one.profile) == key), None)


def _cells(row: ReachRow, passive: ReachRow | None) -> list[str]:
    varied = ", ".join(row.settings.values()) if row.settings else ""
    gained = UNKNOWN if row.gained_m is None else in_column(row.gained_m, signed=True)
    return [
        safe(row.lane),
        safe(row.profile),
        f"{safe(row.line)} (element {row.place})",
        in_column(row.length_m),
        _reach(passive) if passive is not None else UNKNOWN,
        safe(row.device or "none"),
        safe(varied),
        _reach(row) if row.device is not None else "",
        gained if row.device is not None else "",
    ]


def _reach(row: ReachRow) -> str:
    if row.reach_m is None:
        return "none"
    return f"{'>= ' if row.unlimited else ''}{in_column(row.reach_m)}"


def _doubt(row: ReachRow) -> list[str]:
    """Where not every shorter length passes: the lengths that do."""
    if row.monotone or row.reach_m is None:
        return []
    spans = " and ".join(f"{show(one.from_m, 'm')} to {show(one.to_m, 'm')}" for one in row.found.stretches)
    whose = f"{row.device} at {first_words(row.settings)}" if row.settings else "no conditioner"
    return ["", *indented(f"{row.lane} with {whose} passes from {spans} only: shorter is not always better.")]
