"""What every question has: a word, what it is about, how it is asked, how its answer is told."""

from abc import ABC, abstractmethod
from typing import Any, ClassVar

from workbench.board.model import Board, Stage
from workbench.desk.studies.work import Ask
from workbench.studies.pool.jobs import Question
from workbench.studies.presentation import Told


class Asking(ABC):
    """One kind of question.

    Attributes:
        word: its short name in settings and tests.
        title: what people call it.
        about: what has to be chosen: "device", "run" or "lane".
        typed: what stands in the field for something typed at first; "" where there is no field.
        typed_about: what is to be typed there.
    """

    word: ClassVar[str]
    title: ClassVar[str]
    about: ClassVar[str]
    typed: ClassVar[str] = ""
    typed_about: ClassVar[str] = ""

    def subjects(self, board: Board, lane: str) -> tuple[str, ...]:
        """What it can be asked about on a board, what belongs to a lane first."""
        del lane
        return tuple(device.ref for device in board.devices)

    def own(self, board: Board, lane: str) -> tuple[str, ...]:
        """Of the subjects those that a lane has, the one to begin with first."""
        path = next((one.path for one in board.lanes if one.name == lane), ())
        return tuple(element.device for element in path if isinstance(element, Stage))

    @abstractmethod
    def ask(self, question: Question, subject: str, typed: str = "") -> Ask:
        """The study about a subject, with what was typed; raises StudyError where that does not read."""

    @abstractmethod
    def told(self, answer: Any) -> Told:  # noqa: ANN401 - every question has its own answer
        """The answer as it is shown."""

    def growing(self, answer: Any) -> Told:  # noqa: ANN401 - every question has its own answer
        """The answer as it is shown while its study runs: nothing in it may jump from one time to the next."""
        return self.told(answer)
