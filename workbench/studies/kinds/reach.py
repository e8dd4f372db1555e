"""A reach study as text and as a table for a spreadsheet."""

from collections.abc import Iterator

from workbench.board.model import Guard
from workbench.layout import Align, safe
from workbench.parts.conditioner import CONTROLS
from workbench.studies.reach import ReachAnswer, ReachRow
from workbench.studies.tables import UNKNOWN, indented, made_text, scale_text, table, title_of

Row = tuple[object, ...]


def reach_text(answer: ReachAnswer, guard: Guard) -> str:
    """Every lane's reach without and with conditioners side by side, as lines of text.

    Args:
        answer: what was found.
        guard: the board's guard bands, which margins are counted in.
    """
    kept = "its limits" if answer.least_guards == 0.0 else f"{answer.least_guards:g} guard bands"
    lines = [f"{title_of(answer.made)}: how long the run {safe(answer.run)} may get and every lane keep {kept}", ""]
    profiles_differ = len({row.profile for row in answer.rows}) > 1
    heads = ["lane", "interface", "run", "now mm", "passive mm", "device", "set to", "reach mm", "gained mm"]
    aligns: list[Align] = ["left", "left", "left", "right", "right", "left", "left", "right", "right"]
    rows = [_cells(row, _passive(answer, row)) for row in _told(answer)]
    shown = [at for at in range(len(heads)) if at != 1 or profiles_differ]
    lines += table([[cells[at] for at in shown] for cells in (heads, *rows)], [aligns[at] for at in shown])
    lines += [line for row in answer.rows for line in _doubt(row)]
    lines += ["", *scale_text(guard), *made_text(answer.made)]
    return "\n".join(lines) + "\n"


def reach_rows(answer: ReachAnswer) -> Iterator[Row]:
    """Head and one row a lane, interface and setting; SI units in the column names."""
    yield (
        "lane", "profile", "place", "line", "length_m", "device", *CONTROLS, "reach_m", "unlimited", "monotone",
        "stretches_m",
    )  # fmt: skip
    for row in answer.rows:
        chosen = tuple(getattr(row.settings, control) if row.settings else None for control in CONTROLS)
        stretches = "; ".join(f"{one.from_m:g} to {one.to_m:g}" for one in row.found.stretches)
        yield (
            row.lane, row.profile, row.place, row.line, row.length_m, row.device or "none", *chosen, row.reach_m,
            int(row.unlimited), int(row.monotone), stretches,
        )  # fmt: skip


def _told(answer: ReachAnswer) -> list[ReachRow]:
    """The rows with conditioners, and those without of lanes that have none."""
    conditioned = {(row.lane, row.profile) for row in answer.rows if row.device is not None}
    return [row for row in answer.rows if row.device is not None or (row.lane, row.profile) not in conditioned]


def _passive(answer: ReachAnswer, row: ReachRow) -> ReachRow | None:
    key = row.lane, row.profile
    return next((one for one in answer.rows if one.device is None and (one.lane, one.profile) == key), None)


def _cells(row: ReachRow, passive: ReachRow | None) -> list[str]:
    varied = ", ".join(getattr(row.settings, control) for control in CONTROLS) if row.settings else ""
    gained = UNKNOWN
    if passive is not None and row.device is not None and row.reach_m is not None:
        gained = f"{(row.reach_m - (passive.reach_m or 0.0)) * 1e3:+.1f}"
    return [
        safe(row.lane),
        safe(row.profile),
        f"{safe(row.line)} (place {row.place})",
        f"{row.length_m * 1e3:.1f}",
        _reach(passive) if passive is not None else UNKNOWN,
        safe(row.device or "none"),
        safe(varied),
        _reach(row) if row.device is not None else "",
        gained if row.device is not None else "",
    ]


def _reach(row: ReachRow) -> str:
    if row.reach_m is None:
        return "none"
    return f"{'>= ' if row.unlimited else ''}{row.reach_m * 1e3:.1f}"


def _doubt(row: ReachRow) -> list[str]:
    """Where not every shorter length passes: the lengths that do."""
    if row.monotone or row.reach_m is None:
        return []
    spans = " and ".join(f"{one.from_m * 1e3:.1f} to {one.to_m * 1e3:.1f} mm" for one in row.found.stretches)
    whose = f"{row.device} at equalization {row.settings.equalization}" if row.settings else "no conditioner"
    return ["", *indented(f"{row.lane} with {whose} passes from {spans} only: shorter is not always better.")]
