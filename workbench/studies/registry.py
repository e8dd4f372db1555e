"""The studies that there are: what command line, reports and window read. Each is a file in `kinds`, found there."""

import pkgutil
from collections.abc import Iterator
from importlib import import_module

from workbench.errors import StudyError
from workbench.studies import kinds
from workbench.studies.study import Study
from workbench.wording import any_of, quoted


def _found() -> Iterator[Study]:
    for file in pkgutil.iter_modules(kinds.__path__):
        module = import_module(f"{kinds.__name__}.{file.name}")
        for kind in vars(module).values():
            if isinstance(kind, type) and issubclass(kind, Study) and kind.__module__ == module.__name__:
                yield kind()


STUDIES: tuple[Study, ...] = tuple(sorted(_found(), key=lambda study: study.place))


def study_of(word: str) -> Study:
    """The study of a name.

    Raises:
        StudyError: there is none.
    """
    for study in STUDIES:
        if study.word == word:
            return study
    raise StudyError(f"there is no study {quoted(word)}; choose {any_of(study.word for study in STUDIES)}")
