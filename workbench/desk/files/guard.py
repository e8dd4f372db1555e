"""Guards a board's file against being overwritten unseen: by a second window or user, or after someone changed it."""

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from workbench.desk.files.lock import Claim, break_lock, lock_path
from workbench.desk.files.on_disk import DiskVersion, OnDisk
from workbench.desk.session.document import Document
from workbench.desk.widgets.changes_list import ChangesList, changes_between, counted
from workbench.desk.widgets.sheet import Answer, Sheet
from workbench.wording import quoted_path


class FileGuard(QObject):
    """Holds the file of a document, whichever that is, and looks at it again when the window gets the keyboard.

    Signals:
        held: the hold changed; `read_only` may be another.
    """

    held = Signal()

    def __init__(self, document: Document, sheet: Sheet, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._document, self._sheet = document, sheet
        self._disk = OnDisk(document)
        self._claim: Claim | None = None
        self._told: DiskVersion | None = None
        document.file_changed.connect(self._follow)
        self._follow()

    @property
    def holder(self) -> str:
        """Who else has the file, in words; "" where nobody has."""
        return "" if self._claim is None else self._claim.holder

    @property
    def read_only(self) -> bool:
        """Whether the board may not be saved to its file, since someone else has it."""
        return bool(self.holder)

    @property
    def _lost(self) -> bool:
        return self._claim is not None and self._claim.lost

    def close(self) -> None:
        """Let the file go."""
        if self._claim is not None:
            self._claim.release()
            self._claim = None

    def others(self, path: Path) -> str:
        """Who but this window has a file open, in words; "" if nobody has."""
        return self._claim_of(path).holder

    def _claim_of(self, path: Path) -> Claim:
        """The hold on a file: this window's own, or one that was tried and let go."""
        if self._claim is not None and lock_path(self._claim.path) == lock_path(path):
            return self._claim
        claim = Claim(path)
        claim.release()
        return claim

    def open_or_ask(self, path: Path, opened: Callable[[], object], copied: Callable[[], object]) -> None:
        """Open a file, first asking how where someone else has it: to read only, or as a copy in no file yet."""
        claim = self._claim_of(path)
        if not claim.holder:
            opened()
            return
        self._sheet.ask(
            f"{quoted_path(path.name)} is already open: {claim.holder} has it. Open anyway?",
            (
                Answer("Read only", opened), Answer("A copy", copied), *self._taking_over(claim, opened),
                Answer("Cancel", _nothing, safe=True),
            ),
        )  # fmt: skip

    def _taking_over(self, claim: Claim, then: Callable[[], object]) -> tuple[Answer, ...]:
        """What is offered only where the holder can't be seen from here: after a crash there the lock would stay."""
        if not claim.elsewhere:
            return ()
        return (Answer("Break the lock…", lambda: self._ask_to_take_over(claim, then)),)

    def _ask_to_take_over(self, claim: Claim, then: Callable[[], object]) -> None:
        self._sheet.ask(
            f"{quoted_path(claim.path.name)} is held by {claim.holder} since {claim.since}, and it can't be seen from "
            "here whether that program still runs. If it does, it will be told at its next save, and what is not saved "
            "there stays there. Break its lock?",
            (
                Answer("Cancel", _nothing, safe=True),  # the first, which Enter gives
                Answer("Break the lock", lambda: self._take_over(claim.path, then)),
            ),
        )

    def _take_over(self, path: Path, then: Callable[[], object]) -> None:
        try:
            break_lock(path)
        except OSError as error:
            why = error.strerror or error
            name = quoted_path(lock_path(path).name)
            self._document.refused.emit(f"{name} can't be removed ({why}); ask its owner to do it")
            return
        then()

    def tell_holder(self, copied: Callable[[], object]) -> None:
        """Say that the file that is shown is someone else's, and offer a copy."""
        if self._claim is not None and self.read_only and self._document.path is not None:
            name = quoted_path(self._document.path.name)
            self._sheet.ask(
                f"{name} is open: {self.holder} has it. Here it can be read, and saved under another name only.",
                (
                    Answer("Work on a copy", copied), *self._taking_over(self._claim, self._hold_anew),
                    Answer("Read only", _nothing, safe=True),
                ),
            )  # fmt: skip

    def may_save(self, save: Callable[[], object], save_as: Callable[[], object]) -> bool:
        """Whether the board may be written to its file now; else it is said why not, or asked.

        Args:
            save: what is done once the user has decided to write over what is there.
            save_as: what is done where they choose another name.
        """
        path = self._document.path
        if path is None:
            return True
        if self.read_only or self._lost:
            self._hold(path)  # they may have left, or taken it
        if self.read_only:
            name = quoted_path(path.name)
            self._document.refused.emit(f"{name} can't be saved: {self.holder} has it; save it under another name")
            return False
        found = self._disk.probe()
        if found is None or found.gone:
            return True
        self._ask_over(path, found, save, save_as)
        return False

    def check(self, save_as: Callable[[], object]) -> None:
        """Look at the file again, and tell what someone changed there; once for each change."""
        self._check_hold()
        found = self._disk.probe()
        path = self._document.path
        if found is None or path is None or found == self._told or self._sheet.sentence:
            return
        self._told = found
        name = quoted_path(path.name)
        if found.gone:
            self._document.follow_file(None)
            self._document.refused.emit(f"{name} is no longer in its folder; the board is kept here: save it again")
        elif found.board is None:
            self._document.refused.emit(f"{name} was changed on the disk and can't be read; the board here stays")
        else:
            self._ask_theirs(path, found, save_as)

    def _check_hold(self) -> None:
        path = self._document.path
        if path is None or not self._lost:
            return
        self._hold(path)
        if self.read_only:
            name = quoted_path(path.name)
            self._document.refused.emit(f"The lock on {name} was broken: {self.holder} has it; save under another name")

    # --- asking

    def _ask_theirs(self, path: Path, found: DiskVersion, save_as: Callable[[], object]) -> None:
        sentences = self._changes(found)
        self._sheet.ask(
            f"{quoted_path(path.name)} was changed on the disk since it was read: {counted(sentences)}.",
            (
                Answer("Load the disk version", lambda: self._take(found)),
                Answer("Save mine as…", save_as),
                Answer("Keep mine", _nothing, safe=True),
            ),
            extra=ChangesList(sentences),
        )

    def _ask_over(
        self, path: Path, found: DiskVersion, save: Callable[[], object], save_as: Callable[[], object]
    ) -> None:
        name, sentences = quoted_path(path.name), self._changes(found)
        what = f"Saving would undo {counted(sentences)}" if sentences else "What stands there can't be read"
        theirs = (Answer("Load the disk version", lambda: self._take(found)),) if found.board is not None else ()
        self._sheet.ask(
            f"{name} was changed on the disk since it was read. {what}. The version before is kept beside it.",
            (
                Answer("Save as…", save_as),
                Answer("Save over it", lambda: self._overwrite(found, save)),
                *theirs,
                Answer("Cancel", _nothing, safe=True),
            ),
            extra=ChangesList(sentences) if sentences else None,
        )

    def _changes(self, found: DiskVersion) -> tuple[str, ...]:
        saved = self._document.saved
        return () if found.board is None or saved is None else changes_between(saved, found.board)

    def _take(self, found: DiskVersion) -> None:
        """Their board as one step over ours, so that undo brings ours back."""
        board = found.board
        if board is not None:
            self._document.follow_file(board)
            self._document.apply("load the disk version", lambda _: board)

    def _overwrite(self, found: DiskVersion, save: Callable[[], object]) -> None:
        self._document.follow_file(found.board)
        save()

    # --- holding

    def _follow(self) -> None:
        path = self._document.path
        if path != (None if self._claim is None else self._claim.path):
            self._told = None
            self._hold(path)

    def _hold_anew(self) -> None:
        self._hold(self._document.path)

    def _hold(self, path: Path | None) -> None:
        self.close()
        self._claim = None if path is None else Claim(path)
        self.held.emit()


def _nothing() -> None:
    """The answer that changes nothing."""
