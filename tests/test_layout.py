"""How the code is laid out: a name has one meaning, and no folder is crowded."""

import re
from collections import Counter
from pathlib import Path

WORKBENCH = Path(__file__).resolve().parent.parent / "workbench"
MOST_FILES = 20


def public_classes(source: str) -> set[str]:
    """Public classes that a module defines, wherever in it."""
    return set(re.findall(r"^ *class ([A-Za-z]\w*)[(:\[]", source, re.MULTILINE))


def test_a_public_class_name_has_one_meaning_in_the_whole_program():
    homes = Counter(name for module in WORKBENCH.rglob("*.py") for name in public_classes(module.read_text("utf-8")))
    assert len(homes) > 500
    assert [name for name, count in homes.items() if count > 1] == []


def test_no_folder_is_crowded():
    files = Counter(module.parent for module in WORKBENCH.rglob("*.py"))
    assert {str(folder.relative_to(WORKBENCH)): count for folder, count in files.items() if count > MOST_FILES} == {}
