"""The settings study: which settings serve all lanes of a device best."""

from collections.abc import Iterator, Sequence
from functools import partial

from workbench.board.model import Board, Guard
from workbench.layout import Align, safe
from workbench.parts.conditioners.controls import controls_in
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
from workbench.studies.settings import PLATEAU_GUARDS, settings_study
from workbench.studies.study import Cells, Study, StudyField, Values, number
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
    word, title, about = "settings", "Settings", "device"
    purpose = "which settings serve all lanes of a device best"
    fields = (
        StudyField(
            "devices", "--device",
            "devices to set; those that share a lane are set together (every device with a lane)", "REF", several=True,
        ),
        StudyField(
            "plateau_guards", "--plateau", "how far below the best the plateau reaches, in normalized margin (1)", "G",
            number, PLATEAU_GUARDS,
        ),
    )  # fmt: skip

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
        group = answer.groups[0]
        rows = tuple(_candidate_row(n, one, group) for n, one in enumerate(group.candidates[:MOST_ROWS], start=1))
        return Presentation(
            sentence=f"{group.devices[0]}, {settings_words(group.recommended.settings[0].settings)}: {group.reason}.",
            picture=_settings_map(group),
            heads=("rank", *group.controls(group.devices[0]), "worst lane", *MARGIN_HEADS, "verdict"),
            rows=rows,
            edit=answer.edit,
            edit_name=f"settings of {', '.join(group.devices)}",
        )

    def present_growing(self, answer: SettingsAnswer) -> Presentation:
        """The map holds the best so far over the other controls: a slice would be another with every new best."""
        return self.present(answer)._replace(picture=_growing_map(answer.groups[0]))

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


def _candidate_row(rank: int, one: RankedSettings, group: GroupAnswer) -> TableRow:
    settings = one.settings[0].settings
    cells = (str(rank), *settings.values(), one.worst.lane,
             *margin_cells(one.worst), one.worst.verdict)  # fmt: skip
    place = f"groups[0].candidates[{rank - 1}].lanes[{one.lanes.index(one.worst)}]"
    figures = ("", *("" for _ in settings), "", *margin_paths(place, one.worst), "")
    return TableRow(cells, _candidate_point(one, group), figures)


def _candidate_point(one: RankedSettings, group: GroupAnswer) -> Point:
    marked = "best" if one is group.recommended else "now" if one == group.current else ""
    words = (
        f"{settings_words(one.settings[0].settings)}: {one.worst.lane} normalized margin "
        f"{guards_words(one.margin_guards)}, {one.worst.verdict}"
    )
    return Point(words, one.margin_guards, partial(_set, settings=one.settings), marked,
                 judged=one.worst.verdict != "not judged")


def _set(board: Board, settings: Sequence[DeviceSettings]) -> Board:
    return with_settings(board, settings)


def _settings_map(group: GroupAnswer) -> Picture | None:
    """A slice through the recommended setting."""
    others = _map_controls(group)[2:]
    chosen = group.recommended.settings[0].settings.only(others)
    return _mapped(group, [one for one in group.candidates if one.settings[0].settings.only(others) == chosen])


def _growing_map(group: GroupAnswer) -> Picture | None:
    """The best over the other controls."""
    return _mapped(group, group.candidates)


def _positions(group: GroupAnswer, ref: str) -> dict[str, tuple[str, ...]]:
    """The positions that were tried of each of a device's controls."""
    return dict(zip(group.controls(ref), group.positions[group.devices.index(ref)], strict=True))


def _map_controls(group: GroupAnswer) -> list[str]:
    """The controls, those with the most positions first; one position alone is a map of one row."""
    positions = _positions(group, group.devices[0])
    return sorted(positions, key=lambda control: -len(positions[control]))


def _mapped(group: GroupAnswer, ranked: Sequence[RankedSettings]) -> Picture | None:
    """Candidates, the best first, in their cells; None for a device that has not two controls."""
    if len(_map_controls(group)) < 2:
        return None
    across, down = _map_controls(group)[:2]
    columns, rows = (_positions(group, group.devices[0])[control] for control in (across, down))
    by_place: dict[tuple[str, str], RankedSettings] = {}
    for one in ranked:
        settings = one.settings[0].settings
        by_place.setdefault((settings[across], settings[down]), one)
    points = tuple(
        tuple(
            _candidate_point(by_place[column, row], group) if (column, row) in by_place else None for column in columns
        )
        for row in rows
    )
    return MapPicture(across, down, columns, rows, points)


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
        "group", "rank", "recommended", "plateau", "device", *controls, "lane", "height_v", "width_ui",
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
    chosen = [f"{safe(one.ref)} {safe(control)}" for one in group.recommended.settings for control in one.settings]
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
