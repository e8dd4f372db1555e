"""What a reviewer would flag about makers' models: those that were not run, and what the others say."""

from collections.abc import Iterator

from workbench.engine.assessment import Finding, finding
from workbench.engine.lane.lane import Observed


def model_findings(observed: Observed) -> Iterator[Finding]:
    """An error for each model that was not run, with what stands in its place; a note for each thing that one says."""

    for text in dict.fromkeys(observed.troubles):
        yield finding("error", "model-not-run", f"{text}, and the lane is not judged")
    for text in dict.fromkeys(observed.notes):
        yield finding("note", "model-says", text.rstrip("."))
