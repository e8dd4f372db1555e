"""A position study as text and as a table for a spreadsheet."""

from collections.abc import Iterator

from workbench.board.model import Guard
from workbench.layout import Align, safe
from workbench.parts.conditioner import CONTROLS
from workbench.studies.position import PositionAnswer
from workbench.studies.tables import (
    guards_text,
    indented,
    lanes_table,
    made_text,
    scale_text,
    settings_text,
    table,
    title_of,
)

MOST_COLUMNS = 8
"""Settings side by side in the text; of more, the best ones."""
MOST_ROWS = 26

Row = tuple[object, ...]


def position_text(answer: PositionAnswer, guard: Guard) -> str:
    """Best position, curves, windows and whether a conditioner is needed, as lines of text.

    Args:
        answer: what was found.
        guard: the board's guard bands, which margins are counted in.
    """
    lines = [f"{title_of(answer.made)}: where {safe(answer.device)} should stand", ""]
    lines += indented(f"{answer.reason}.")
    lines += indented(f"Best setting: {settings_text(answer.best.settings)}.")
    if answer.current is not None:
        now = answer.current
        lines += indented(f"As it is: {now.worst.lane} {guards_text(now.margin_guards)} ({now.worst.verdict}).")
    lines += ["", *lanes_table(answer.best.lanes), "", *_curves(answer)]
    if answer.needs:
        lines += ["", "Is a conditioner needed, and would one suffice?"]
        lines += [line for need in answer.needs for line in indented(f"{need.said}.")]
    lines += ["", *scale_text(guard), *made_text(answer.made)]
    return "\n".join(lines) + "\n"


def position_rows(answer: PositionAnswer) -> Iterator[Row]:
    """Head and one row a setting, position and lane; SI units in the column names."""
    yield (
        "device", *CONTROLS, "shift_m", "best", "lane", "height_v", "width_ui", "margin_height_v", "margin_width_ui",
        "verdict", "lane_margin_guards", "worst_margin_guards",
    )  # fmt: skip
    for point in answer.points:
        chosen = tuple(getattr(point.settings, control) for control in CONTROLS)
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
    every = -(-len(answer.shifts_m) // MOST_ROWS)
    kept = {0.0, answer.best.shift_m, answer.shifts_m[-1]}
    shifts = [shift for n, shift in enumerate(answer.shifts_m) if n % every == 0 or shift in kept]
    heads = ("shift mm", *(_short(answer, settings) for settings in shown))
    rows = [(f"{shift * 1e3:+.1f}", *(guards_text(known.get((one, shift))) for one in shown)) for shift in shifts]
    windows = (
        "window mm",
        *(
            " & ".join(
                f"{window.from_m * 1e3:+.0f}..{window.to_m * 1e3:+.0f}"
                for window in answer.windows if window.settings == settings
            ) or "none"
            for settings in shown
        ),
    )  # fmt: skip
    aligns: list[Align] = ["right"] * (len(shown) + 1)
    varied = [control for control in CONTROLS if len({getattr(one, control) for one in answer.settings}) > 1]
    by = f" by {', '.join(varied)}" if varied else ""
    note = f"The worst lane's margin{by}; positive shifts are towards the receivers"
    left_out = len(answer.settings) - len(shown)
    counted = f" ({left_out} settings with less are in the table for a spreadsheet)" if left_out else ""
    return [note + counted, *table([heads, *rows, windows], aligns)]


def _short(answer: PositionAnswer, settings: object) -> str:
    """What tells a setting from the others that were tried."""
    varied = [control for control in CONTROLS if len({getattr(one, control) for one in answer.settings}) > 1]
    return safe("/".join(getattr(settings, control) for control in varied)) or "as set"
