"""A report as one self-contained HTML file: no script, no network, both themes, a phone and a printer."""

import re

from workbench.reports.colours import DARK, LIGHT, Theme
from workbench.reports.compared import LANE_HEADS
from workbench.reports.pages.changes import CHANGE_HEADS, ChangesPage
from workbench.reports.pages.handover import Handover
from workbench.reports.pages.made import ReportOrigin
from workbench.reports.pages.pictures import LEGENDS
from workbench.reports.pages.remedies import CORNER_HEADS, REMEDY_HEADS
from workbench.reports.pages.settings_sheet import SettingsSheet, lanes_words, power_words
from workbench.reports.pages.templates import rendered
from workbench.reports.wording import CAUTION
from workbench.studies.kinds.budget import BUDGET_HEADS
from workbench.wording import SIGNS

_COLOURS = [name for name in Theme._fields if name not in ("name", "traces")]
_HEAD = re.compile(r"^\s*(<\?xml[^>]*\?>)?\s*(<!DOCTYPE[^>]*>)?\s*")
_SIZE = re.compile(r'(<svg\b[^>]*?)\s+width="([^"]*)"\s+height="([^"]*)"')


def report_html(report: Handover) -> str:
    """The document, with pictures inline; colours follow the reader's system and are light on paper."""
    return rendered(
        "report.html.j2", report=report, made=report.made, sheet=report.settings, power=power_words(report.settings),
        lanes_words=lanes_words, light=theme_variables(dark=False), dark=theme_variables(dark=True), inline=inline_svg,
        caution=CAUTION, signs=SIGNS, budget_heads=BUDGET_HEADS, legends=LEGENDS, contents=report.contents(),
        lane_numbers=report.lane_numbers(), budget_numbers=report.budget_numbers(),
        remedy_heads=REMEDY_HEADS, corner_heads=CORNER_HEADS,
        lane_heads=LANE_HEADS, change_heads=CHANGE_HEADS,
    )  # fmt: skip


def changes_html(changes: ChangesPage) -> str:
    """A comparison of two boards as a document."""
    return rendered(
        "compare.html.j2", changes=changes, lane_heads=LANE_HEADS, change_heads=CHANGE_HEADS, caution=CAUTION,
        light=theme_variables(dark=False), dark=theme_variables(dark=True),
    )  # fmt: skip


def sheet_html(sheet: SettingsSheet, made: ReportOrigin) -> str:
    """The settings sheet as a document."""
    return rendered(
        "sheet.html.j2", sheet=sheet, made=made, power=power_words(sheet), lanes_words=lanes_words, caution=CAUTION,
        light=theme_variables(dark=False), dark=theme_variables(dark=True),
    )  # fmt: skip


def inline_svg(svg: str, *, themed: bool = True) -> str:
    """An SVG document as an element of a page, scaling with its width.

    Args:
        svg: the document.
        themed: whether the light theme's colours in it become the page's variables.
    """
    element = _SIZE.sub(r"\1", _HEAD.sub("", svg), count=1)
    if not themed:
        return element
    for name, colour in _named(LIGHT):
        element = re.sub(rf'(=")({colour})(")', rf"\1var(--{name})\3", element, flags=re.IGNORECASE)
    return element


def theme_variables(*, dark: bool) -> str:
    """The window's colours as CSS variables, those of its dark theme or its light one."""
    return " ".join(f"--{name}: {colour};" for name, colour in _named(DARK if dark else LIGHT))


def _named(theme: Theme) -> list[tuple[str, str]]:
    named = [(name.replace("_", "-"), str(getattr(theme, name))) for name in _COLOURS]
    return [*named, *((f"trace-{number}", colour) for number, colour in enumerate(theme.traces, start=1))]
