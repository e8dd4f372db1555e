"""What a study is: what it asks, the fields of its form, its answer as text, rows and picture, and what applies it.

The command line makes its options from a study's fields, the window its form, reports their text and tables from the
same record; none of them knows a study by name. A new study is one file under `kinds`; with its form in `forms`
its help loads no engine.
"""

from abc import ABC, abstractmethod
from collections.abc import Iterator, Mapping
from typing import Any, ClassVar

from workbench.board.model import Board, Guard, Stage
from workbench.errors import StudyError
from workbench.studies.forms import StudyField, TypedField
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import UNHURRIED, Effort
from workbench.studies.pool.size import LIMIT
from workbench.studies.presentation import Presentation

Values = Mapping[str, Any]
"""What a form's fields hold, by their keys; a field that is not there has its default."""
Cells = tuple[object, ...]


class Study(ABC):
    """One kind of study; its answer is a record of its own, with `made`.

    Attributes:
        word: its name on the command line and in files.
        title: its name in the window.
        purpose: what it finds out, as a phrase.
        about: what the window has chosen as its subject: "device", "run" or "lane".
        fields: its form.
        typed: what the window asks for besides; None where there is nothing.
        place: where it stands among the others; what is asked more often comes first.
        rows_stand: whether the table of an answer that grows only grows, so that it can be read on the way.
    """

    word: ClassVar[str]
    title: ClassVar[str]
    purpose: ClassVar[str]
    about: ClassVar[str]
    fields: ClassVar[tuple[StudyField, ...]]
    typed: ClassVar[TypedField | None] = None
    place: ClassVar[int] = 1000
    rows_stand: ClassVar[bool] = False

    def subjects(self, board: Board, lane: str) -> tuple[str, ...]:
        """What it can be about on a board, what belongs to a lane first."""
        del lane
        return tuple(device.ref for device in board.devices)

    def own(self, board: Board, lane: str) -> tuple[str, ...]:
        """Of the subjects those that a lane has, the one to begin with first."""
        path = next((one.path for one in board.lanes if one.name == lane), ())
        return tuple(element.device for element in path if isinstance(element, Stage))

    @abstractmethod
    def values(self, subject: str, typed: str = "") -> Values:
        """What the window's subject, and what was typed beside it, say as fields; raises StudyError."""

    @abstractmethod
    def answer(self, basis: Basis, values: Values, *, limit: int = LIMIT, effort: Effort = UNHURRIED) -> Any:  # noqa: ANN401 - every study has its own
        """The answer; raises StudyError where it can't be had."""

    @abstractmethod
    def present(self, answer: Any) -> Presentation:  # noqa: ANN401 - as above
        """The answer as the window shows it."""

    def present_growing(self, answer: Any) -> Presentation:  # noqa: ANN401 - as above
        """The answer as it is shown while its study runs: nothing in it may jump from one time to the next."""
        return self.present(answer)

    @abstractmethod
    def text(self, answer: Any, guard: Guard) -> str:  # noqa: ANN401 - as above
        """The answer as lines of text; a guard band of the board (`guard`) is a normalized margin of 1."""

    @abstractmethod
    def rows(self, answer: Any) -> Iterator[Cells]:  # noqa: ANN401 - as above
        """The answer as a table for a spreadsheet, the head first; SI units in the column names."""

    def applied(self, answer: Any, board: Board) -> Board:  # noqa: ANN401 - as above
        """The board with the answer applied.

        Raises:
            StudyError: there is nothing to apply.
        """
        del answer, board
        raise StudyError("this answer changes nothing on the board; omit --board-out")

    @abstractmethod
    def passes(self, answer: Any) -> bool:  # noqa: ANN401 - as above
        """Whether every lane passes in the answer."""
