"""The settings study: which settings serve all lanes of a device best."""

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import NamedTuple

from workbench.board.model import Board, Guard
from workbench.layout import Align, safe
from workbench.parts.conditioners.controls import controls_in
from workbench.studies import forms
from workbench.studies.forms import PLATEAU_GUARDS
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import UNHURRIED, Effort
from workbench.studies.pool.size import LIMIT
from workbench.studies.presentation import (
    MARGIN_HEADS,
    MOST_ROWS,
    MapPicture,
    Picture,
    Point,
    Presentation,
    TableRow,
    guards_words,
    margin_cells,
    margin_paths,
    settings_words,
)
from workbench.studies.setting_search.answer import (
    DeviceSettings,
    GroupAnswer,
    RankedSettings,
    SettingsAnswer,
    margin_map,
    with_settings,
)
from workbench.studies.setting_search.settings import devices_with_lanes
from workbench.studies.settings import settings_study
from workbench.studies.study import Cells, Study, Values
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

class SettingsStudy(Study):
    """Which settings serve all lanes of a device."""

    place = 10
    word, purpose, fields = forms.SETTINGS
    title, about = "Settings", "device"

    def values(self, subject: str, typed: str = "") -> Values:
        """All positions of all controls."""
        del typed
        return {"devices": (subject,)}

    def answer(
        self, basis: Basis, values: Values, *, limit: int = LIMIT, effort: Effort = UNHURRIED
    ) -> SettingsAnswer:
        """The settings that serve all lanes; raises StudyError."""
        return settings_study(
            basis, values.get("devices") or devices_with_lanes(basis.board),
            plateau_guards=values.get("plateau_guards", PLATEAU_GUARDS), limit=limit, effort=effort,
        )  # fmt: skip

    def present(self, answer: SettingsAnswer) -> Presentation:
        """A map over equalization and whatever else varies, the ranking, the recommended setting."""
        return _presented(answer, _settings_map)

    def present_growing(self, answer: SettingsAnswer) -> Presentation:
        """The map holds the best so far over the other controls: a slice would be another with every new best."""
        return _presented(answer, _growing_map)

    def text(self, answer: SettingsAnswer, guard: Guard) -> str:
        """The recommended settings with their reason, the ranking and the maps."""
        return _text(answer, guard)

    def rows(self, answer: SettingsAnswer) -> Iterator[Cells]:
        """One row for each candidate, device and lane."""
        return _rows(answer)

    def applied(self, answer: SettingsAnswer, board: Board) -> Board:
        """Every device set as recommended; raises EditError where it is another board by now."""
        return answer.edit(board)

    def passes(self, answer: SettingsAnswer) -> bool:
        """Whether every lane passes as recommended."""
        return all(lane.verdict == "pass" for group in answer.groups for lane in group.recommended.lanes)


def _presented(answer: SettingsAnswer, map_of: Callable[[GroupAnswer, str], Picture | None]) -> Presentation:
    """The answer as the window shows it; of several groups the map is that of the lane that stands worst."""
    groups = answer.groups
    decides = min(groups, key=lambda group: group.recommended.margin_guards)
    first = groups[0]
    alone = len(groups) == 1 and len(first.devices) == 1
    rows = (
        _candidate_row(at, rank, one, group, alone=alone)
        for at, group in enumerate(groups)
        for rank, one in enumerate(group.candidates[: MOST_ROWS // len(groups)], start=1)
    )
    refs = dict.fromkeys(one.ref for group in groups for one in group.recommended.settings)
    return Presentation(
        sentence=_sentence(groups, decides),
        picture=map_of(decides, f"groups[{next(n for n, one in enumerate(groups) if one is decides)}]"),
        heads=("rank", *(first.controls(first.devices[0]) if alone else ("set to",)), "worst lane", *MARGIN_HEADS,
               "verdict"),
        rows=tuple(rows),
        edit=answer.edit,
        edit_name=f"settings of {', '.join(refs)}",
    )  # fmt: skip


def _sentence(groups: Sequence[GroupAnswer], decides: GroupAnswer) -> str:
    """What is recommended where a lane stands worst, with the reason; the others with their margins."""
    others = "; ".join(
        f"{joint_words(group.recommended)}: {guards_words(group.recommended.margin_guards)}"
        for group in groups if group is not decides
    )  # fmt: skip
    return f"{joint_words(decides.recommended)}: {decides.reason}.{f' {others}.' if others else ''}"


def joint_words(one: RankedSettings) -> str:
    """A joint setting as words: "U4, equalization 3, swing high; U4 channel 2, emphasis off"."""
    return "; ".join(f"{device.words}, {settings_words(device.settings)}" for device in one.settings)


def _candidate_row(at: int, rank: int, one: RankedSettings, group: GroupAnswer, *, alone: bool) -> TableRow:
    chosen = tuple(one.settings[0].settings.values()) if alone else (joint_words(one),)
    cells = (str(rank), *chosen, one.worst.lane, *margin_cells(one.worst), one.worst.verdict)
    place = f"groups[{at}].candidates[{rank - 1}]"
    margins = margin_paths(f"{place}.lanes[{one.lanes.index(one.worst)}]", one.worst)
    return TableRow(cells, _candidate_point(one, group, place), ("", *("" for _ in chosen), "", *margins, ""))


def _candidate_point(one: RankedSettings, group: GroupAnswer, place: str) -> Point:
    """A candidate, with where it stands in the answer's JSON."""
    marked = "best" if one is group.recommended else "now" if one == group.current else ""
    words = (
        f"{settings_words(one.settings[0].settings) if len(one.settings) == 1 else joint_words(one)}: "
        f"{one.worst.lane} normalized margin "
        f"{guards_words(one.margin_guards)}, {one.worst.verdict}"
    )
    return Point(words, one.margin_guards, partial(_set, settings=one.settings), marked,
                 judged=one.worst.verdict != "not judged", figure=f"{place}.margin_guards")


def _set(board: Board, settings: Sequence[DeviceSettings]) -> Board:
    return with_settings(board, settings)


def _settings_map(group: GroupAnswer, place: str) -> Picture | None:
    """A slice through the recommended setting."""
    axes = _map_axes(group)[:2]
    chosen = _but_for(group.recommended, axes)
    return _mapped(group, place, [one for one in group.candidates if _but_for(one, axes) == chosen])


def _growing_map(group: GroupAnswer, place: str) -> Picture | None:
    """The best over the other controls."""
    return _mapped(group, place, group.candidates)


def _positions(group: GroupAnswer, ref: str) -> dict[str, tuple[str, ...]]:
    """The positions that were tried of each of a device's controls."""
    return dict(zip(group.controls(ref), group.positions[group.devices.index(ref)], strict=True))


class _Axis(NamedTuple):
    """A control that a map may run over: its device's number in the group, its name, its positions."""

    device: int
    control: str
    positions: tuple[str, ...]

    def at(self, one: RankedSettings) -> str:
        """Where a candidate has it."""
        return one.settings[self.device].settings[self.control]


def _but_for(one: RankedSettings, axes: Sequence[_Axis]) -> tuple[dict[str, str], ...]:
    """What a candidate sets besides some controls."""
    free = {(axis.device, axis.control) for axis in axes}
    return tuple(
        {name: position for name, position in device.settings.items() if (n, name) not in free}
        for n, device in enumerate(one.settings)
    )


def _map_axes(group: GroupAnswer) -> list[_Axis]:
    """The controls, those with the most positions first; one position alone is a map of one row.

    Those of the first device; where channels have controls for themselves, those that the worst lane has.
    """
    by_channel = any(one.channel is not None for one in group.recommended.settings)
    worst = group.recommended.worst.lane
    shown = [n for n, lanes in enumerate(group.served) if worst in lanes] if by_channel else [0]
    axes = (
        _Axis(n, control, positions) for n in shown
        for control, positions in _positions(group, group.devices[n]).items()
    )  # fmt: skip
    return sorted(axes, key=lambda axis: -len(axis.positions))


def _mapped(group: GroupAnswer, place: str, ranked: Sequence[RankedSettings]) -> Picture | None:
    """Candidates, the best first, in their cells, with the group's place; None where there are not two controls."""
    axes = _map_axes(group)
    if len(axes) < 2:
        return None
    across, down = axes[:2]
    columns, rows = across.positions, down.positions
    numbers = {id(one): number for number, one in enumerate(group.candidates)}
    cells: dict[tuple[str, str], Point] = {}
    for one in ranked:
        if (where := (across.at(one), down.at(one))) not in cells:
            cells[where] = _candidate_point(one, group, f"{place}.candidates[{numbers[id(one)]}]")
    points = tuple(tuple(cells.get((column, row)) for column in columns) for row in rows)
    return MapPicture(_axis_name(group, across), _axis_name(group, down), columns, rows, points)


def _axis_name(group: GroupAnswer, axis: _Axis) -> str:
    return axis.control if len(group.devices) == 1 else f"{group.devices[axis.device]} {axis.control}"


def _text(answer: SettingsAnswer, guard: Guard) -> str:
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


def _rows(answer: SettingsAnswer) -> Iterator[Cells]:
    """Head and one row a candidate, device and lane; SI units in the column names."""
    controls = controls_in(one.settings for group in answer.groups for one in group.recommended.settings)
    yield (
        "group", "rank", "recommended", "plateau", "device", *controls, "channel", "lane", "height_v", "width_ui",
        "margin_height_v", "margin_width_ui", "verdict", "lane_margin_guards", "worst_margin_guards", "nearby_guards",
    )  # fmt: skip
    for count, group in enumerate(answer.groups, 1):
        plateau = set(map(id, group.plateau))
        for rank, one in enumerate(group.candidates, 1):
            marks = (count, rank, int(one is group.recommended), int(id(one) in plateau))
            yield from _candidate_rows(marks, one, controls)


def _candidate_rows(marks: Cells, one: RankedSettings, controls: Sequence[str]) -> Iterator[Cells]:
    for device in one.settings:
        chosen = tuple(device.settings.get(control) for control in controls)
        for lane in one.lanes:
            yield (
                *marks, device.ref, *chosen, device.channel, lane.lane, lane.height_v, lane.width_ui,
                lane.margin_height_v, lane.margin_width_ui, lane.verdict, lane.margin_guards, one.margin_guards,
                one.nearby_guards,
            )  # fmt: skip


def _group(group: GroupAnswer) -> list[str]:
    lines = [f"Recommended for {', '.join(map(safe, group.devices))}"]
    lines += [
        f"{INDENT}{safe(one.words)}{f' ({safe(lanes[0])})' if one.channel is not None else ''}: "
        f"{settings_text(one.settings)}"
        for one, lanes in zip(group.recommended.settings, group.served, strict=True)
    ]
    lines += indented(f"{group.reason[0].upper()}{group.reason[1:]}.")
    if group.current is not None:
        now = group.current
        stands = f"{now.worst.lane} {guards_text(now.margin_guards)} ({now.worst.verdict})"
        lines += indented(f"As the board is set: {stands}.")
    lines += indented(f"Searched: {group.how}.")
    lines += ["", *lanes_table(group.recommended.lanes), "", *_ranking(group)]
    for device in group.devices:
        found = _map(group, device)
        lines += ["", *found] if found else []
    return lines


def _ranking(group: GroupAnswer) -> list[str]:
    shown = group.candidates[:SHOWN]
    chosen = [f"{safe(one.words)} {safe(control)}" for one in group.recommended.settings for control in one.settings]
    heads = ("", "rank", *chosen, "normalized margin", "worst neighbour", "worst", "")
    left: list[Align] = ["left"] * len(chosen)
    aligns: list[Align] = ["left", "right", *left, "right", "right", "left", "left"]
    rows = [_ranking_cells(group, rank, one) for rank, one in enumerate(shown, 1)]
    counted = f"{len(shown)} of {len(group.candidates):,}" if len(shown) < len(group.candidates) else "all"
    note = f"Ranking by the worst lane ({counted}; > recommended, ~ on the plateau, = as it is)"
    return [note, *table([heads, *rows], aligns)]


def _ranking_cells(group: GroupAnswer, rank: int, one: RankedSettings) -> tuple[str, ...]:
    mark = ">" if one is group.recommended else "~" if one in group.plateau else ""
    if group.current is not None and one.settings == group.current.settings:
        mark += "="
    chosen = (safe(position) for device in one.settings for position in device.settings.values())
    worst = one.worst
    nearby = guards_text(one.nearby_guards)
    return (mark, f"{rank}", *chosen, guards_text(one.margin_guards), nearby, safe(worst.lane), worst.verdict)


def _map(group: GroupAnswer, ref: str) -> list[str]:
    """Margin over the two controls with the most positions."""
    positions = _positions(group, ref)
    if len(positions) < 2:
        return []
    down, across = sorted(positions, key=lambda control: -len(positions[control]))[:2]
    found = margin_map(group, ref, across, down)
    heads = (f"{found.down} \\ {found.across}", *map(safe, found.columns))
    rows = [(safe(name), *map(guards_text, row)) for name, row in zip(found.rows, found.margin_guards, strict=True)]
    right: list[Align] = ["right"] * len(found.columns)
    aligns: list[Align] = ["left", *right]
    return [f"{safe(ref)}: the worst lane's margin, all else as recommended", *table([heads, *rows], aligns)]
