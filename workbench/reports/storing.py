"""Writing reports into files."""

from pathlib import Path

from workbench.errors import ReportError


def write_report(content: bytes, path: Path) -> None:
    """Write a report's file; one that was there is replaced.

    Raises:
        ReportError: the file can't be written.
    """
    try:
        path.write_bytes(content)
    except OSError as error:
        raise ReportError(f"{path} can't be written ({error.strerror or error}); choose another place") from error
