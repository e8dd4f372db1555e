"""A settings study as text and as a table for a spreadsheet."""

from collections.abc import Iterator

from workbench.board.model import Guard
from workbench.layout import Align, safe
from workbench.parts.conditioner import CONTROLS
from workbench.studies.setting_search.answer import Candidate, GroupAnswer, SettingsAnswer, margin_map
from workbench.studies.tables import (
    INDENT,
    guards_text,
    indented,
    lanes_table,
    made_text,
    scale_text,
    settings_text,
    table,
    title_of,
)

SHOWN = 12
"""Candidates in the ranking; the table for a spreadsheet has all."""

Row = tuple[object, ...]


def settings_study_text(answer: SettingsAnswer, guard: Guard) -> str:
    """The recommended settings with their reason, the ranking and the maps, as lines of text.

    Args:
        answer: what was found.
        guard: the board's guard bands, which margins are counted in.
    """
    lines = [f"{title_of(answer.made)}: which settings serve all lanes", ""]
    for group in answer.groups:
        lines += [*_group(group), ""]
    lines += [*scale_text(guard), *made_text(answer.made)]
    return "\n".join(lines) + "\n"


def settings_study_rows(answer: SettingsAnswer) -> Iterator[Row]:
    """Head and one row a candidate, device and lane; SI units in the column names."""
    yield (
        "group", "rank", "recommended", "plateau", "device", *CONTROLS, "lane", "height_v", "width_ui",
        "margin_height_v", "margin_width_ui", "verdict", "lane_margin_guards", "worst_margin_guards", "nearby_guards",
    )  # fmt: skip
    for number, group in enumerate(answer.groups, 1):
        plateau = set(map(id, group.plateau))
        for rank, one in enumerate(group.candidates, 1):
            marks = (number, rank, int(one is group.recommended), int(id(one) in plateau))
            yield from _candidate_rows(marks, one)


def _candidate_rows(marks: Row, one: Candidate) -> Iterator[Row]:
    for device in one.settings:
        chosen = tuple(getattr(device.settings, control) for control in CONTROLS)
        for lane in one.lanes:
            yield (
                *marks, device.ref, *chosen, lane.lane, lane.height_v, lane.width_ui, lane.margin_height_v,
                lane.margin_width_ui, lane.verdict, lane.margin_guards, one.margin_guards, one.nearby_guards,
            )  # fmt: skip


def _group(group: GroupAnswer) -> list[str]:
    lines = [f"Recommended for {', '.join(map(safe, group.devices))}"]
    lines += [f"{INDENT}{safe(one.ref)}: {settings_text(one.settings)}" for one in group.recommended.settings]
    lines += indented(f"{group.reason[0].upper()}{group.reason[1:]}.")
    if group.current is not None:
        now = group.current
        stands = f"{now.worst.lane} {guards_text(now.margin_guards)} ({now.worst.verdict})"
        lines += indented(f"As the board is set: {stands}.")
    lines += indented(f"Searched: {group.how}.")
    lines += ["", *lanes_table(group.recommended.lanes), "", *_ranking(group)]
    for ref in group.devices:
        lines += ["", *_map(group, ref)]
    return lines


def _ranking(group: GroupAnswer) -> list[str]:
    shown = group.candidates[:SHOWN]
    devices = [safe(ref) for ref in group.devices]
    chosen = [f"{ref} {control}" for ref in devices for control in CONTROLS]
    heads = ("", "rank", *chosen, "margin", "worst neighbour", "worst", "")
    left: list[Align] = ["left"] * len(chosen)
    aligns: list[Align] = ["left", "right", *left, "right", "right", "left", "left"]
    rows = [_ranking_cells(group, rank, one) for rank, one in enumerate(shown, 1)]
    counted = f"{len(shown)} of {len(group.candidates):,}" if len(shown) < len(group.candidates) else "all"
    note = f"Ranking by the worst lane ({counted}; > recommended, ~ on the plateau, = as it is)"
    return [note, *table([heads, *rows], aligns)]


def _ranking_cells(group: GroupAnswer, rank: int, one: Candidate) -> tuple[str, ...]:
    mark = ">" if one is group.recommended else "~" if one in group.plateau else ""
    if group.current is not None and one.settings == group.current.settings:
        mark += "="
    chosen = (safe(getattr(device.settings, control)) for device in one.settings for control in CONTROLS)
    worst = one.worst
    nearby = guards_text(one.nearby_guards)
    return (mark, f"{rank}", *chosen, guards_text(one.margin_guards), nearby, safe(worst.lane), worst.verdict)


def _map(group: GroupAnswer, ref: str) -> list[str]:
    """Margin over the two straps with the most positions."""
    positions = group.positions[group.devices.index(ref)]
    down, across = sorted(range(len(CONTROLS)), key=lambda at: -len(positions[at]))[:2]
    found = margin_map(group, ref, CONTROLS[across], CONTROLS[down])
    heads = (f"{found.down} \\ {found.across}", *map(safe, found.columns))
    rows = [(safe(name), *map(guards_text, row)) for name, row in zip(found.rows, found.margin_guards, strict=True)]
    right: list[Align] = ["right"] * len(found.columns)
    aligns: list[Align] = ["left", *right]
    return [f"{safe(ref)}: the worst lane's margin, all else as recommended", *table([heads, *rows], aligns)]
