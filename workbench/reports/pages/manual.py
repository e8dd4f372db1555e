"""The manual: pages of ``resources/help`` joined with the facts of every field, as one HTML file or a part of it."""

import re
from collections.abc import Iterator
from typing import Literal, NamedTuple

import msgspec

from workbench.board.index import section_names
from workbench.facts import Fact, facts_of
from workbench.parts.record import Record, records_in
from workbench.quantity import show
from workbench.reports.pages.as_html import theme_variables
from workbench.reports.pages.templates import filled, rendered
from workbench.reports.wording import CAUTION
from workbench.resources import resource

PAGES = ("first-board", "results", "figures", "findings", "measured", "models", "studies", "handing-over", "glossary")
"""The pages that are no part's, in the manual's order."""

_HEAD = re.compile(r'<h2 id="([^"]+)">(?:<a[^>]*></a>)?(.*?)</h2>')

FINDINGS = "findings"
"""The anchor of the page about findings."""

Form = Literal["page", "plain"]


class ReservedRow(NamedTuple):
    """A reserved parameter of IBIS-AMI: its name, who may give it, and what it is used for; "" where it is ignored."""

    name: str
    usages: str
    used: str


class FieldRow(NamedTuple):
    """One field as the manual tells it: label, key in the file, unit, range, default and meaning."""

    label: str
    key: str
    unit: str
    range: str
    default: str
    help: str


class PartPage(NamedTuple):
    """One kind of part: the id that links use, its title, its section, what it models (HTML) and its fields."""

    id: str
    title: str
    section: str
    text: str
    fields: tuple[FieldRow, ...]


def manual_html(form: Form = "page") -> str:
    """The whole manual.

    Args:
        form: "page" for a browser; "plain" for a text view that knows little CSS.
    """
    from workbench.engine.figures.explaining import FIGURES  # noqa: PLC0415 - the engine, where the manual is asked for
    from workbench.makers.reserved import RESERVED  # noqa: PLC0415 - as above
    from workbench.reports.explained import figure_rows  # noqa: PLC0415 - as above

    rows = figure_rows(FIGURES)
    reserved = [ReservedRow(name, ", ".join(one.usages), one.used) for name, one in sorted(RESERVED.items())]
    texts = [filled(_source(page), caution=CAUTION, figures=rows, reserved=reserved, form=form) for page in PAGES]
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
            yield PartPage(part_id(kind), _title(kind), section, text, tuple(_rows(kind)))


def page_name(kind: type[Record]) -> str:
    """The name of a kind's page: the word that tells it apart in its section, else the section's own, singular."""
    tag = kind.__struct_config__.tag
    return tag if isinstance(tag, str) else kind.__name__.lower()


def part_id(kind: type[Record]) -> str:
    """The anchor of a kind's page."""
    return f"part-{page_name(kind)}"


def field_id(kind: type[Record], field: str) -> str:
    """The anchor of a field of a kind."""
    return f"{part_id(kind)}-{field}"


def finding_id(rule: str) -> str:
    """The anchor of a finding's rule."""
    return rule


def _kinds(section: str) -> tuple[type[Record], ...]:
    try:
        return records_in(section)
    except KeyError:
        return ()


def _title(kind: type[Record]) -> str:
    return page_name(kind).replace("-", " ").capitalize()


def _source(page: str) -> str:
    return resource("help", f"{page}.html").read_text(encoding="utf-8")


def _rows(kind: type[msgspec.Struct]) -> Iterator[FieldRow]:
    for fact in facts_of(kind):
        yield FieldRow(fact.label, fact.name, fact.unit, fact.range_text(), _default(fact), fact.help)


def _default(fact: Fact) -> str:
    value = fact.default
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        return ""
    return value if isinstance(value, str) else show(float(value), fact.unit)
