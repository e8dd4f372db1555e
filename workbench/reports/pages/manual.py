"""The manual: pages of ``resources/help`` joined with the facts of every field, as one HTML file or a part of it."""

import re
from base64 import b64encode
from collections.abc import Iterator, Sequence
from typing import Literal, NamedTuple

from workbench.board.index import section_names
from workbench.board.model import Board
from workbench.parts.record import Record, records_in
from workbench.reports.pages.as_html import theme_variables
from workbench.reports.pages.reference import (
    CommandPage,
    FieldRow,
    field_rows,
    page_name,
    part_id,
    record_tables,
    result_tables,
)
from workbench.reports.pages.templates import filled, rendered
from workbench.reports.wording import CAUTION
from workbench.resources import resource

PAGES = (
    "about", "first-board", "from-nothing", "results", "figures", "findings", "measured", "models", "studies",
    "cluster", "handing-over", "keys", "files", "commands", "glossary",
)  # fmt: skip
"""The pages that are no part's, in the manual's order."""

_HEAD = re.compile(r'<h2 id="([^"]+)">(?:<a[^>]*></a>)?(.*?)</h2>')

FINDINGS = "findings"
"""The anchor of the page about findings."""

WINDOW_PARTS = (
    ("Menus", "every command; Ctrl+K finds each by its name, and lanes and parts too"),
    ("Lane table", "a row a lane with its verdict and margins"),
    ("Parts", "what can be put on a path: the board's own entries, free channels, starters, your library"),
    ("Path strip", "the chosen lane from transmitter to receiver, true to length or not to scale"),
    ("Panes", "frequency response, pulse, eye and bathtub at the probe points"),
    ("Details", "the fields of what is selected: board, lane, element, part"),
    ("Status line", "the board's verdict, the findings, and what is being computed"),
)
"""What the numbers in the labelled picture of the window stand for, from 1."""

Form = Literal["page", "plain"]


class ReservedRow(NamedTuple):
    """A reserved parameter of IBIS-AMI: its name, who may give it, and what it is used for; "" where it is ignored."""

    name: str
    usages: str
    used: str


class PartPage(NamedTuple):
    """One kind of part: the id that links use, its title, its section, what it models (HTML) and its fields."""

    id: str
    title: str
    section: str
    text: str
    fields: tuple[FieldRow, ...]


def manual_html(
    form: Form = "page", commands: Sequence[CommandPage] = (), keys: Sequence[tuple[str, str]] = ()
) -> str:
    """The whole manual.

    Args:
        form: "page" for a browser; "plain" for a text view that knows little CSS.
        commands: the command line's own help; without any, that page says how to see it.
        keys: the window's commands and their keys, likewise.
    """
    from workbench.engine.assessment import Assessment  # noqa: PLC0415 - the engine, where the manual is asked for
    from workbench.engine.figures.explaining import FIGURES  # noqa: PLC0415 - as above
    from workbench.engine.verdict.thresholds import thresholds  # noqa: PLC0415 - as above
    from workbench.makers.reserved import RESERVED  # noqa: PLC0415 - as above
    from workbench.reports.answers import ANSWER_GROUPS  # noqa: PLC0415 - as above
    from workbench.reports.explained import figure_rows  # noqa: PLC0415 - as above
    from workbench.studies.entries.rows import ROW_FIGURES  # noqa: PLC0415 - as above

    told = {
        "figures": figure_rows(FIGURES), "columns": ROW_FIGURES,
        "answers": [(title, figure_rows(entries)) for title, entries in ANSWER_GROUPS],
        "records": record_tables(Board), "results": result_tables(Assessment),
        "reserved": [ReservedRow(name, ", ".join(one.usages), one.used) for name, one in sorted(RESERVED.items())],
        "window_picture": _inline_picture(), "window_parts": WINDOW_PARTS,
        "commands": commands, "keys": keys, "limits": thresholds(),
    }  # fmt: skip
    texts = [filled(_source(page), caution=CAUTION, form=form, **told) for page in PAGES]
    heads = [found.groups() for text in texts for found in _HEAD.finditer(text)]
    variables = {"light": theme_variables(dark=False), "dark": theme_variables(dark=True)}
    return rendered(
        "manual.html.j2", form=form, parts=list(part_pages()), caution=CAUTION,
        texts=texts, heads=heads, **variables,
    )  # fmt: skip


def part_pages() -> Iterator[PartPage]:
    """Every kind of part, section by section in the file's order."""
    for section in section_names():
        for kind in _kinds(section):
            text = _source(f"parts/{page_name(kind)}")
            yield PartPage(part_id(kind), _title(kind), section, text, field_rows(kind))


def _kinds(section: str) -> tuple[type[Record], ...]:
    try:
        return records_in(section)
    except KeyError:
        return ()


def _title(kind: type[Record]) -> str:
    return page_name(kind).replace("-", " ").capitalize()


def _inline_picture() -> str:
    """The labelled picture of the window, made by `workbench.desk.labelled`, as text of a page."""
    data = resource("pictures", "window-labelled.png").read_bytes()
    return f"data:image/png;base64,{b64encode(data).decode()}"


def _source(page: str) -> str:
    return resource("help", f"{page}.html").read_text(encoding="utf-8")
