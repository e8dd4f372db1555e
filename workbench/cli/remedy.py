"""`link-margin remedy`: what would make lanes pass; the study of that name under a word of its own."""

from workbench.cli.arguments import CommandOffer, Commands, Parser, named_command
from workbench.cli.study import add_study, study

_EPILOG = """\
examples:
  link-margin remedy shelf.board.json
  link-margin remedy shelf.board.json --lane D3 --allow settings,parts
  link-margin remedy shelf.board.json --board-out cured.board.json

Single changes first, the cheapest class first, then pairs. A lane's search ends with the first class that makes it pass
and no other lane worse. --board-out writes the board with the first such answer of every lane.

exit status: 0 every lane passes or can be made to, 1 at least one cannot, 2 the input could not be read, 130 cancelled
with Ctrl+C; what was known until then is printed
"""


def _add_remedy(commands: "Commands[Parser]") -> None:
    named_command(commands, "remedy", _EPILOG).set_defaults(
        study="remedy"
    )


def _add_fields(offered: Parser) -> None:
    from workbench.studies.forms import REMEDY  # noqa: PLC0415 - other commands start without the studies

    add_study(offered, REMEDY)


OFFERS = (CommandOffer("remedy", _add_remedy, study, _add_fields),)
