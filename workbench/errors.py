"""Everything this program refuses, as one tree.

    WorkbenchError              a sentence for the user, never a traceback
    ├── BoardFileError          a board file that can't be read or written: place, problem, remedy
    ├── EditError               an edit that would leave the board inconsistent
    ├── QuantityError           a typed quantity that is not a number with a fitting unit
    ├── ProbePointError         a probe point that is not on the lane's path
    ├── TableError              a table of measured values or lengths that can't be taken in: place, problem, remedy
    │   └── NotStatedError      it reads, but does not say what its numbers mean: what to state
    ├── NetworkError            a network that can't be used, repaired or written as asked
    ├── ModelError              a maker's model that can't be read or used
    │   └── ModelRunError       its code was run, or was to be run, and gave no answer: what happened
    ├── FitError                values that can't be fitted to the measured data
    ├── PatternError            a pattern of bits that can't be sent
    ├── StudyError              a study that asks for what is not there, or for too much
    ├── ReportError             a report that can't be drawn or written
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
    """A typed quantity that is not a number, or whose unit doesn't fit the field."""


class ProbePointError(WorkbenchError):
    """A probe point that is not on the lane's path."""


class PatternError(WorkbenchError):
    """A pattern of bits that can't be sent."""


class StudyError(WorkbenchError):
    """A study that asks for what is not there, or for too much."""


class ReportError(WorkbenchError):
    """A report that can't be drawn or written."""


class EngineError(WorkbenchError):
    """A lane that the engine can't compute."""


class TableError(WorkbenchError):
    """A table (CSV, pasted cells) that can't be taken in.

    Attributes:
        source: the file's name, or what else the text came from.
        line: the line in it, from 1; None where the whole is meant.
        problem: what is wrong there.
        remedy: what to write instead.
    """

    def __init__(self, source: str, line: int | None, problem: str, remedy: str) -> None:
        self.source = source
        self.line = line
        self.problem = problem
        self.remedy = remedy
        super().__init__(f"{source}{'' if line is None else f', line {line}'}: {problem}; {remedy}")


class NotStatedError(TableError):
    """A table that reads, but leaves open what its numbers mean; asked for, never guessed.

    Attributes:
        wanted: what has to be stated, as the name of the reader's parameter ("decimal", "time_unit", ...).
    """

    def __init__(self, source: str, line: int | None, problem: str, remedy: str, *, wanted: str) -> None:
        self.wanted = wanted
        super().__init__(source, line, problem, remedy)


class NetworkError(WorkbenchError):
    """A network that can't be used, repaired or written as asked."""


class FitError(WorkbenchError):
    """Catalogue values that can't be fitted to the measured data."""


class ModelError(WorkbenchError):
    """A maker's model (IBIS-AMI) that can't be read or used."""


class ModelRunError(ModelError):
    """A model's code that gave no answer.

    Attributes:
        happened: what happened, in a word: "untrusted", "platform", "load", "missing", "refused", "crashed", "hung",
            "overran", "not finite", "clocks", "garbled", "text" or "cancelled".
    """

    def __init__(self, happened: str, sentence: str) -> None:
        self.happened = happened
        super().__init__(sentence)


class Stopped(Exception):  # noqa: N818 - no error: the answer is not wanted any more
    """Raised inside work whose answer is not wanted any more, of a study, a thread or a process; no user sees it."""


PHYSICS_FAILS = (WorkbenchError, ArithmeticError, ValueError)
"""How a part's formulas fail: what can't be is refused in a sentence, a number leaves its range (a division by nothing,
an overflow), or an array has none to give (LinAlgError is a ValueError). Whatever else comes is a fault of ours."""
