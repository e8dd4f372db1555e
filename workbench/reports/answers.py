"""Every entry of figures that are no lane's, and what each command's answer is called."""

from collections.abc import Iterable

from workbench.engine.figures.answered import AnswerEntry, ExplainedAnswer, answer_chain
from workbench.engine.figures.explaining import Explanation
from workbench.engine.figures.lines import LINE_ENTRIES
from workbench.engine.figures.readings import READING_ENTRIES
from workbench.measured.fit.entries import FIT_ENTRIES
from workbench.measured.overlay.entries import OVERLAY_ENTRIES
from workbench.measured.tables.gain_entries import GAIN_TABLE_ENTRIES
from workbench.measured.tables.lane_list_entries import LANE_LIST_ENTRIES
from workbench.measured.touchstone.entries import NETWORK_ENTRIES
from workbench.reports.explained import explanations_json, explanations_text
from workbench.reports.pages.sheet_entries import SHEET_ENTRIES
from workbench.reports.section.entries import SECTION_ENTRIES
from workbench.reports.waveform_entries import WAVEFORM_ENTRIES
from workbench.studies.entries.gains import GAIN_ENTRIES
from workbench.studies.entries.lanes import LANE_ENTRIES
from workbench.studies.entries.opinions import OPINION_ENTRIES
from workbench.studies.entries.remedies import REMEDY_ENTRIES
from workbench.studies.entries.searches import SEARCH_ENTRIES
from workbench.studies.entries.variation import VARIATION_ENTRIES

ANSWER_GROUPS: tuple[tuple[str, tuple[AnswerEntry, ...]], ...] = (
    ("Lanes in studies", LANE_ENTRIES), ("Settings, position, reach", SEARCH_ENTRIES),
    ("Corners and yield", VARIATION_ENTRIES), ("Margin budget and comparison", GAIN_ENTRIES),
    ("Make it pass", REMEDY_ENTRIES), ("Cross-section", SECTION_ENTRIES), ("A line by itself", LINE_ENTRIES),
    ("Settings sheet", SHEET_ENTRIES), ("Bits one by one", WAVEFORM_ENTRIES),
    ("Measurements beside a lane", OVERLAY_ENTRIES), ("Fits", FIT_ENTRIES), ("Measured networks", NETWORK_ENTRIES),
    ("Where the cursor stands", READING_ENTRIES), ("Lane lists", LANE_LIST_ENTRIES),
    ("Tables of gains and makers' models", GAIN_TABLE_ENTRIES),
    ("A model beside the program's own figures", OPINION_ENTRIES),
)  # fmt: skip
"""The entries by what they are about, as the manual has them."""
ANSWER_ENTRIES: tuple[AnswerEntry, ...] = tuple(entry for _, entries in ANSWER_GROUPS for entry in entries)


def path_in_answer(path: str) -> str:
    """A path of a printed JSON document as one of the answer in it, which stands there under ``answer``."""
    return path.removeprefix("answer.")


def answer_explained(whole: ExplainedAnswer, path: str, *, as_json: bool) -> str:
    """A figure of an answer with all others of it that it rests on, for the terminal; raises WorkbenchError."""
    found: Iterable[Explanation] = list(answer_chain(ANSWER_ENTRIES, whole, path_in_answer(path)))
    return explanations_json(found) if as_json else explanations_text(found, hint="")
