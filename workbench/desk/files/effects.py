"""What differs between two boards as a list, with what each change does to the margins as soon as that is known."""

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from workbench.board.difference import BoardDifference
from workbench.board.difference import differences as all_differences
from workbench.board.model import Board
from workbench.desk.background.talk import Talk
from workbench.desk.background.thread import ThreadChannel
from workbench.desk.widgets.changes_list import ChangesList
from workbench.desk.widgets.theme import GRID_PX

if TYPE_CHECKING:
    from workbench.studies.comparison.comparing import CompareAnswer
    from workbench.studies.pool.running import Advance

_GOING_ON = "Computing what each change does to the margins"
_SCALE = "Normalized margin that a change adds to the earlier board (that this board would lose without it)."
_UNFELT = "None of these changes is one that a lane feels."


class EffectsChannel(ThreadChannel):
    """Where effects are computed, one comparison at a time."""

    broken = "What the changes do to the margins can't be told"


class ChangesWithEffects(QWidget):
    """The list; effects are computed away from the GUI thread until they are known or the channel is cancelled.

    Args:
        old, new: the boards, of which `new` has something otherwise.
        channel: where effects are computed.
        workers: how many processes assess; None: as many as it sees fit.

    Attributes:
        list, note: the sentences, and what is said below them.
    """

    def __init__(
        self, old: Board, new: Board, channel: EffectsChannel, *, workers: int | None = None,
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self.setObjectName("changesList")
        self._found = all_differences(old, new)
        self.list = ChangesList(self.sentences)
        self.note = QLabel(wordWrap=True)
        self.note.setAccessibleName("Effects of the changes")
        body = QVBoxLayout(self)
        body.setContentsMargins(0, 0, 0, 0)
        body.setSpacing(GRID_PX)
        body.addWidget(self.list)
        body.addWidget(self.note)
        from workbench.studies.comparison.differences import differences as felt  # noqa: PLC0415 - few ever ask

        if felt(old, new) and old.lanes and new.lanes:
            self.note.setText(f"{_GOING_ON}…")
            channel.ask(
                lambda talk: _compared(old, new, workers, talk), self._show, progress=self._go_on,
                failed=self.note.setText,
            )  # fmt: skip
        else:
            self.note.setText(_UNFELT)

    @property
    def sentences(self) -> tuple[str, ...]:
        """What differs, a sentence each."""
        return tuple(one.sentence for one in self._found)

    @property
    def text(self) -> str:
        """All that is shown at the moment, a line each."""
        return self.list.toPlainText()

    def _go_on(self, advance: "Advance") -> None:
        self.note.setText(f"{_GOING_ON}: {advance.done} of {advance.total} assessments…")

    def _show(self, answer: "CompareAnswer") -> None:
        from workbench.reports.compared import effects_words  # noqa: PLC0415 - with the studies' tables

        words = {(one.where, one.name): effects_words(one) for one in answer.changes}
        self.list.setPlainText("\n".join(f"{one.sentence}{_added(words, one)}" for one in self._found))
        self.note.setText(_SCALE)


def _added(words: dict[tuple[str, str], str], one: BoardDifference) -> str:
    said = words.get((one.where, one.name), "") if one.field in ("", "profile", "guard") else ""
    return f"\n    {said}" if said else ""


def _compared(old: Board, new: Board, workers: int | None, talk: Talk) -> "CompareAnswer":
    from workbench.studies.comparison.comparing import compare_boards  # noqa: PLC0415 - few ever ask
    from workbench.studies.pool.jobs import Basis  # noqa: PLC0415 - as above
    from workbench.studies.pool.running import Effort  # noqa: PLC0415 - as above

    effort = Effort(workers=workers, watch=talk.tell, cancelled=talk.hurry)
    return compare_boards(Basis(board=old), Basis(board=new), effort=effort)
