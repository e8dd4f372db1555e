"""The command line's own help as the manual has it: made from the parser, so that it can't differ."""

import argparse
from collections.abc import Iterator
from contextlib import suppress

from workbench.cli.arguments import Parser, parser
from workbench.cli.listing import LISTED
from workbench.reports.pages.reference import CommandPage

_COLUMNS = 96


def command_pages() -> tuple[CommandPage, ...]:
    """Every command, each followed by its own commands ("study", then "study settings")."""
    return tuple(page for name in LISTED for page in _pages(name, _own(parser(name), name), LISTED[name].purpose))


def _own(whole: Parser, name: str) -> argparse.ArgumentParser:
    return next(held.choices[name] for held in _inside(whole))


def _inside(one: argparse.ArgumentParser) -> Iterator["argparse._SubParsersAction[argparse.ArgumentParser]"]:
    yield from (action for action in one._actions if isinstance(action, argparse._SubParsersAction))


def _pages(name: str, one: argparse.ArgumentParser, purpose: str) -> Iterator[CommandPage]:
    one.formatter_class = lambda prog: argparse.RawDescriptionHelpFormatter(prog, width=_COLUMNS)
    usage = one.format_usage().removeprefix("usage: ").strip()
    arguments = tuple(
        (_written(action), _meaning(action, one.prog)) for action in one._actions
        if not isinstance(action, argparse._SubParsersAction | argparse._HelpAction)
    )  # fmt: skip
    yield CommandPage(name, f"{purpose[:1].upper()}{purpose[1:]}.", usage, arguments, (one.epilog or "").strip())
    for held in _inside(one):
        purposes = {choice.dest: choice.help or "" for choice in held._choices_actions}
        for word, inner in held.choices.items():
            yield from _pages(f"{name} {word}", inner, purposes.get(word, ""))


def _written(action: argparse.Action) -> str:
    named = f"{{{','.join(map(str, action.choices))}}}" if action.choices is not None else action.dest.upper()
    metavar = action.metavar if isinstance(action.metavar, str) else named
    if not action.option_strings:
        return metavar
    return ", ".join(action.option_strings) + ("" if action.nargs == 0 else f" {metavar}")


def _meaning(action: argparse.Action, prog: str) -> str:
    told = action.help or ""
    with suppress(KeyError, ValueError, TypeError):
        told = told % {**vars(action), "prog": prog}
    return told
