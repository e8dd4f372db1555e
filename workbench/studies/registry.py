"""The studies that there are: what command line, reports and window read."""

from workbench.errors import StudyError
from workbench.studies.kinds.budget import BudgetStudy
from workbench.studies.kinds.corners import CornersStudy
from workbench.studies.kinds.position import PositionStudy
from workbench.studies.kinds.reach import ReachStudy
from workbench.studies.kinds.remedy import RemedyStudy
from workbench.studies.kinds.settings import SettingsStudy
from workbench.studies.kinds.yields import YieldStudy
from workbench.studies.study import Study
from workbench.wording import any_of, quoted

STUDIES: tuple[Study, ...] = (
    SettingsStudy(), PositionStudy(), ReachStudy(), CornersStudy(), YieldStudy(), BudgetStudy(), RemedyStudy(),
)  # fmt: skip


def study_of(word: str) -> Study:
    """The study of a name.

    Raises:
        StudyError: there is none.
    """
    for study in STUDIES:
        if study.word == word:
            return study
    raise StudyError(f"there is no study {quoted(word)}; choose {any_of(study.word for study in STUDIES)}")
