"""The templates under ``resources/report``: found, filled in, everything from a board escaped."""

from functools import cache
from typing import TYPE_CHECKING

from workbench.resources import resource

if TYPE_CHECKING:
    from jinja2 import Environment


def rendered(template: str, **values: object) -> str:
    """A template filled in.

    Args:
        template: its file name.
        values: what it speaks of; a name that it uses and that is not given is an error of the program.
    """
    return _environment().get_template(template).render(**values)


def filled(text: str, **values: object) -> str:
    """A page's own text, which may name a few values, filled in."""
    return _environment().from_string(text).render(**values)


@cache
def _environment() -> "Environment":
    from jinja2 import Environment, FileSystemLoader, StrictUndefined  # noqa: PLC0415 - only who reports loads it

    return Environment(
        loader=FileSystemLoader(resource("report")), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip
