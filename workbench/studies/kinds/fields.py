"""Fields, subjects and values that several studies have."""

from pathlib import Path

from workbench.board.edits.changes import Gaps, changed
from workbench.board.model import Board
from workbench.errors import StudyError
from workbench.facts import fact_of
from workbench.parts.lines.coupling import SpacingCoupling
from workbench.studies.study import StudyField, TypedField, Values, length_m
from workbench.studies.variation.tolerances import Tolerance, read_tolerances, tolerance_from_text

ALL = "all lanes"
LANES = StudyField("lanes", "--lane", "only these lanes", "NAME", several=True)
SETTINGS_WORDS = "current, first (every position of its first control), all, or the name of a control"
"""Which settings of a device may be tried."""
TOLERANCES = StudyField(
    "tolerances", "--tolerance",
    'what varies and how far: "impedance=±10%", "length=-1%..+2% uniform per lane", "boost:U1=±1 dB", '
    '"vias/through via/stub_m=±0.2 mm"; WHAT is loss, copper loss, impedance, permittivity, length, boost, swing, '
    "gain, emphasis, gap, skew, noise, random jitter, deterministic jitter, each also of one entry or device "
    "(boost:U1), or any number of the catalogue as SECTION/NAME/FIELD; normal, three sigma wide, unless uniform is "
    "said; one deviation per board unless per layer or per lane is said",
    "WHAT=RANGE", tolerance_from_text, (), several=True,
)  # fmt: skip
TOLERANCE_FILES = StudyField(
    "tolerance_files", "--tolerances",
    'files of them, JSON: {"tolerances": [{"on": "impedance", "low": -0.1, "high": 0.1}]}',
    "FILE", lambda name: read_tolerances(Path(name)), (), several=True,
)  # fmt: skip
TYPED_TOLERANCES = TypedField(
    "impedance=±10%; loss=±10%", "tolerances, such as impedance=±10%; boost:U1=±1 dB; length=±2% per lane",
    tolerances=True,
)

GAPS = StudyField(
    "gaps", "--gap",
    'as if every gap between neighbours were so wide, such as "0.4 mm"; of several gaps an answer each (as they are)',
    "D", length_m, (), several=True,
)  # fmt: skip
"""What every study may be asked at."""


def at_gap(board: Board, gap_m: float) -> Board:
    """The board with every gap between neighbours `gap_m` (m) wide.

    Raises:
        StudyError: there is none, or none can be so wide.
    """
    if not any(isinstance(one, SpacingCoupling) for one in board.catalogue.couplings):
        raise StudyError("no lanes of the board lie beside one another at a gap; lay their runs beside one another")
    wide = fact_of(SpacingCoupling, "gap_m")
    if not wide.allows(gap_m):
        raise StudyError(f"a gap of {gap_m:g} m is none that neighbours have; write one {wide.range_text()}")
    return changed(board, (Gaps(gap_m),))


def tolerances_in(values: Values) -> tuple[Tolerance, ...]:
    """All tolerances of a form, those of its files first."""
    read = [one for some in values.get("tolerance_files", ()) for one in some]
    return (*read, *values.get("tolerances", ()))


def tolerances_typed(typed: str) -> tuple[Tolerance, ...]:
    """Tolerances as they are typed, one after another with semicolons between.

    Raises:
        StudyError: one of them does not read, or there is none.
    """
    parts = [part for part in typed.split(";") if part.strip()] or [typed]
    return tuple(map(tolerance_from_text, parts))


def lanes_of(subject: str) -> tuple[str, ...] | None:
    """The lanes that a subject means; None for all."""
    return None if subject == ALL else (subject,)


class OfLanes:
    """What studies about one lane or all of them have in common."""

    about = "lane"

    def subjects(self, board: Board, lane: str) -> tuple[str, ...]:
        """The current lane, all together, the others."""
        names = [one.name for one in board.lanes]
        return tuple(dict.fromkeys((*([lane] if lane in names else ()), *([ALL] if names else ()), *names)))

    def own(self, board: Board, lane: str) -> tuple[str, ...]:
        """The lane itself."""
        del board
        return (lane,)
