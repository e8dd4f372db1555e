"""Everything this program refuses, as one tree.

    WorkbenchError              a sentence for the user, never a traceback
    ├── BoardFileError          a board file that can't be read or written: place, problem, remedy
    ├── EditError               an edit that would leave the board inconsistent
    ├── QuantityError           a typed quantity that is no number with a fitting unit
    ├── LookPointError          a look point that is not on the lane's path
    └── EngineError             a lane that can't be computed (it never settles, say)
"""


class WorkbenchError(Exception):
    """What the user did can't be done; the text is one clear sentence that says why and how to mend it."""


class BoardFileError(WorkbenchError):
    """A board file (or a board in memory) that breaks the format.

    Attributes:
        place: where, as a JSON path such as ``$.lanes[3].path[0].length_m``, or a line and column where the
            text is no JSON; ``$`` is the whole file and is not repeated in the sentence.
        problem: what is wrong there.
        remedy: what to write instead.
    """

    def __init__(self, place: str, problem: str, remedy: str) -> None:
        self.place = place
        self.problem = problem
        self.remedy = remedy
        sentence = f"{problem}; {remedy}"
        super().__init__(sentence if place == "$" else f"{place}: {sentence}")


class EditError(WorkbenchError):
    """An edit that names what is not there, or would leave the board inconsistent."""


class QuantityError(WorkbenchError):
    """A typed quantity that is no number, or whose unit doesn't fit the field."""


class LookPointError(WorkbenchError):
    """A look point that is not on the lane's path."""


class EngineError(WorkbenchError):
    """A lane that the engine can't compute."""
