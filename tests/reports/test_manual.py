"""The manual: a page for every kind of part, a section for every finding, a line for every field; no dead link."""

import re

import pytest

from workbench.board.index import section_names
from workbench.facts import facts_of
from workbench.parts.record import Record, records_in
from workbench.reports.pages.manual import PAGES, manual_html
from workbench.reports.pages.reference import field_id, finding_id, page_name, part_id
from workbench.reports.wording import CAUTION
from workbench.resources import resource

_RULE = re.compile(r'finding\(\s*"(?:note|warning|error)",\s*"([a-z-]+)"')


def kinds() -> list[type[Record]]:
    found = []
    for section in section_names():
        try:
            found += records_in(section)
        except KeyError:
            continue
    return found


@pytest.fixture(scope="module")
def manual() -> str:
    return manual_html()


def ids(html: str) -> list[str]:
    return re.findall(r'\bid="([^"]+)"', html)


@pytest.mark.parametrize("kind", kinds(), ids=page_name)
def test_every_kind_has_a_page_that_says_model_source_range_and_check(kind: type[Record], manual: str) -> None:
    text = resource("help", "parts", f"{page_name(kind)}.html").read_text(encoding="utf-8")
    for head in ("Model.", "Source.", "Range.", "Checked."):
        assert f"<b>{head}</b>" in text
    assert part_id(kind) in ids(manual)


@pytest.mark.parametrize("kind", kinds(), ids=page_name)
def test_every_field_has_a_line_with_its_meaning(kind: type[Record], manual: str) -> None:
    for fact in facts_of(kind):
        line = manual.split(f'id="{field_id(kind, fact.name)}"', 1)[1].split("</tr>", 1)[0]
        assert fact.label in line
        assert fact.help.replace("&", "&amp;").replace("<", "&lt;").replace("'", "&#39;") in line


def test_the_contents_list_every_page(manual: str) -> None:
    listed = re.findall(r'<a href="#([^"]+)">', manual.split("<nav>", 1)[1].split("</nav>", 1)[0])
    assert listed == [*PAGES, *dict.fromkeys(part_id(kind) for kind in kinds())]


def test_every_rule_of_the_engine_has_its_section_and_no_section_is_left_over() -> None:
    engine = resource().parent / "workbench" / "engine"
    rules = {rule for path in engine.rglob("*.py") for rule in _RULE.findall(path.read_text(encoding="utf-8"))}
    assert len(rules) >= 17
    text = resource("help", "findings.html").read_text(encoding="utf-8")
    assert set(ids(text)) - {"findings"} == {finding_id(rule) for rule in rules}


def test_no_link_leads_nowhere_or_out_of_the_manual(manual: str) -> None:
    targets = re.findall(r'href="([^"]*)"', manual)
    assert targets
    assert {target.removeprefix("#") for target in targets} <= set(ids(manual))
    assert "http" not in manual


def test_ids_are_unique(manual: str) -> None:
    found = ids(manual)
    assert len(found) == len(set(found))


def test_the_caution_is_told(manual: str) -> None:
    assert CAUTION.replace("'", "&#39;") in manual
