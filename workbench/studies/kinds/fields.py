"""Fields, subjects and values that several studies have."""

from workbench.board.edits.changes import Gaps, changed
from workbench.board.model import Board
from workbench.errors import StudyError
from workbench.facts import fact_of
from workbench.parts.lines.coupling import SpacingCoupling
from workbench.studies.forms import TypedField
from workbench.studies.study import Values
from workbench.studies.variation.tolerances import Tolerance, tolerance_from_text

ALL = "all lanes"
TYPED_TOLERANCES = TypedField(
    "impedance=±10%; loss=±10%", "tolerances, such as impedance=±10%; boost:U1=±1 dB; length=±2% per lane",
    tolerances=True,
)


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
