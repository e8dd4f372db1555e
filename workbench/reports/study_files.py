"""Answers of studies as JSON and CSV, and as a file beside the board that says which board and program made it."""

from collections.abc import Iterable
from pathlib import Path

import msgspec

from workbench.reports.cells import csv_text
from workbench.reports.storing import write_report

FORMAT = "link-margin-study"
VERSION = 1


class StudyFile(msgspec.Struct, frozen=True, kw_only=True):
    """An answer as it is stored; `answer` begins with ``made``: the board's title and SHA-256, and the program."""

    format: str = FORMAT
    version: int = VERSION
    study: str
    answer: msgspec.Struct


def study_json(study: str, answer: msgspec.Struct) -> str:
    """An answer as JSON, keys as the records declare them, two-space indent."""
    return msgspec.json.format(msgspec.json.encode(StudyFile(study=study, answer=answer)), indent=2).decode() + "\n"


def study_csv(rows: Iterable[tuple[object, ...]]) -> str:
    """Rows, the first of which is the head; what is not known is empty, floats stand in their shortest form."""
    return csv_text(rows)


def study_file_beside(board: Path, study: str) -> Path:
    """Where an answer about a board's file is stored unless another place is named: ``NAME.STUDY.study.json``."""
    return board.with_name(f"{board.name.removesuffix('.json').removesuffix('.board')}.{study}.study.json")


def store_study(study: str, answer: msgspec.Struct, path: Path) -> None:
    """Write an answer's file; raises ReportError where it can't be written."""
    write_report(study_json(study, answer).encode(), path)
