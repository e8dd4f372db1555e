"""Writing reports into files."""

from pathlib import Path

from workbench.errors import ReportError
from workbench.replacing import replace_file


def write_report(content: bytes, path: Path) -> None:
    """Write a report's file; one that was there is replaced whole, or stays whole where that fails.

    Raises:
        ReportError: the file can't be written.
    """
    try:
        replace_file(path, content)
    except OSError as error:
        raise ReportError(f"{path} can't be written ({error.strerror or error}); choose another place") from error
