"""`link-margin model`: makers' models (IBIS-AMI) shown, trusted, and asked for their response."""

import argparse
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.cli.arguments import (
    CommandOffer,
    Commands,
    Parser,
    add_explain,
    command,
    named_command,
    print_explained,
)
from workbench.cli.model_compare import COMPARE, add_compare_options, compare
from workbench.cli.statuses import PASSED
from workbench.errors import ModelError
from workbench.quantity import parse, show
from workbench.wording import quoted

if TYPE_CHECKING:
    from workbench.makers.ami import AmiFile
    from workbench.makers.ibs import IbsFile
    from workbench.makers.parameter_string import Chosen
    from workbench.makers.parameters import Parameter
    from workbench.makers.trust import Candidate

_EPILOG = """\
examples:
  link-margin model show driver.ibs
  link-margin model show driver.ami
  link-margin model trust driver.ibs
  link-margin model trust driver.ami --library driver.so --yes
  link-margin model response driver.ami --library driver.so --rate 5Gb/s --set taps/1=-0.2
  link-margin model compare driver.ami --board shelf.board.json --lane D0 --at transmitter

exit status: 0 done, 2 the input could not be read, or the model gave no answer
"""
_SHOW = "exit status: 0 done, 2 the file could not be read\n"
_TRUST = """\
A model is program code. It runs in a process of its own, so that a crash or an endless loop harms
nothing; but it runs with your rights, and that process does not protect against malice. Trust is yours
alone, kept by SHA-256 with your own data, never in a board file.

exit status: 0 trusted, 2 not trusted
"""
_RESPONSE = """\
The library has to be trusted. A unit impulse goes through its AMI_Init; what comes back is its gain.

exit status: 0 done, 2 the model gave no answer
"""
_WARNING = (
    "This is program code that will run with your rights, in a process of its own: safe from crashes, not from malice."
)
_TRIED_PER_SYMBOL, _TRIED_SYMBOLS, _SHOWN_POINTS = 32, 128, 24


def model(asked: argparse.Namespace) -> int:
    """Do what is asked about a model.

    Raises:
        WorkbenchError: a file can't be read, or the model's code gave no answer.
    """
    ways = {
        "show": show_model, "trust": trust, "response": response, "compare": compare, "list": listed, "forget": forget
    }  # fmt: skip
    return ways[asked.task](asked)


def show_model(asked: argparse.Namespace) -> int:
    """Show what is in an .ami or .ibs file.

    Raises:
        ModelError: it is neither, or can't be read.
    """
    from workbench.makers.ami import read_ami  # noqa: PLC0415 - help starts without it
    from workbench.makers.ibs import read_ibs  # noqa: PLC0415 - as above

    if Path(asked.file).suffix.casefold() == ".ibs":
        ibs = read_ibs(asked.file)
        return _out(asked, _ibs_json(ibs), _ibs_lines(ibs))
    ami = read_ami(asked.file)
    bit_time_s = 1.0 / parse(asked.rate, unit="bit/s")
    return _out(asked, _ami_json(ami, bit_time_s), _ami_lines(ami, bit_time_s))


def trust(asked: argparse.Namespace) -> int:
    """Trust a model's bytes from now on.

    Raises:
        ModelError: a file can't be read, or it was not said that it is to be trusted.
    """
    from workbench.makers.trust import Trust  # noqa: PLC0415 - help starts without it

    found = _candidates(asked)
    for one in found:
        kept = one.kept
        maker = kept.maker or "not stated"
        sys.stdout.write(
            f"model {kept.root}\n  maker    {maker}\n  library  {kept.library}, {kept.size:,} bytes\n"
            f"  SHA-256  {kept.library_sha256}\n"
        )
        for name, _ in kept.supporting:
            sys.stdout.write(f"  with     {name}\n")
    sys.stdout.write(_WARNING + "\n")
    if not asked.yes and not _agreed():
        raise ModelError("nothing was trusted; answer y, or write --yes")
    for one in found:
        Trust().add(one)
    sys.stdout.write(f"trusted: {', '.join(one.ami.root for one in found)}\n")
    return PASSED


def response(asked: argparse.Namespace) -> int:
    """Show a trusted model's gain against frequency.

    Raises:
        ModelError: it is not trusted, refused in the statistical flow, or its code gave no answer.
    """
    import numpy as np  # noqa: PLC0415 - help starts without it

    from workbench.makers.flows import model_of, through_init  # noqa: PLC0415 - as above
    from workbench.makers.trust import Trust  # noqa: PLC0415 - as above
    from workbench.measured.tables.gain_entries import ModelGain  # noqa: PLC0415 - as above
    from workbench.reports.data import record_data  # noqa: PLC0415 - as above

    [candidate] = _candidates(asked)
    kept = candidate.kept
    trusted = Trust().find(kept.root, kept.library_sha256, kept.ami_sha256)
    bit_time_s = 1.0 / parse(asked.rate, unit="bit/s")
    dt_s = bit_time_s / _TRIED_PER_SYMBOL
    impulse = np.zeros((1, _TRIED_PER_SYMBOL * _TRIED_SYMBOLS))
    impulse[0, 0] = 1.0 / dt_s
    one = model_of(trusted, _chosen(asked.set or [], trusted.ami))
    found = through_init(one, impulse, sample_interval_s=dt_s, bit_time_s=bit_time_s)
    f_hz = np.geomspace(0.01, 2.0, _SHOWN_POINTS) / bit_time_s
    late = np.arange(impulse.size) * dt_s
    gain = np.exp(-2j * np.pi * f_hz[:, np.newaxis] * late) @ found.responses[0] * dt_s
    gain_db = 20.0 * np.log10(np.maximum(np.abs(gain), 1e-12))
    answer = ModelGain(
        model=one.name, sha256=kept.library_sha256, parameters=one.text, says=tuple(found.sentences),
        frequency_hz=tuple(f_hz.tolist()), gain_db=tuple(gain_db.tolist()),
    )  # fmt: skip
    if asked.explain:
        print_explained(asked, f"Response of {one.name}", answer)
        return PASSED
    rows = [f"  {show(f, 'Hz'):>12}  {level:8.2f} dB" for f, level in zip(f_hz.tolist(), gain_db.tolist(), strict=True)]
    return _out(asked, record_data(answer), [f"model {one.name}: {one.text}", *rows, *found.sentences])


def listed(asked: argparse.Namespace) -> int:
    """List the models that this user trusts."""
    import msgspec  # noqa: PLC0415 - help starts without it

    from workbench.makers.trust import Trust  # noqa: PLC0415 - as above

    known = Trust().all()
    lines = [f"{kept.library_sha256}  {kept.root}  {kept.library}  {kept.maker}".rstrip() for kept in known]
    return _out(asked, {"trusted": msgspec.to_builtins(known)}, lines or ["no model is trusted"])


def forget(asked: argparse.Namespace) -> int:
    """Trust a library no more.

    Raises:
        ModelError: none of that hash is trusted, or several begin so.
    """
    from workbench.makers.trust import Trust  # noqa: PLC0415 - help starts without it

    hashes = {kept.library_sha256 for kept in Trust().all() if kept.library_sha256.startswith(asked.sha256.casefold())}
    if len(hashes) != 1:
        several = "several begin so; write more of it" if hashes else "see link-margin model list"
        raise ModelError(f"no one trusted library has the SHA-256 {quoted(asked.sha256)}; {several}")
    Trust().remove(hashes.pop())
    sys.stdout.write("no longer trusted\n")
    return PASSED


def _candidates(asked: argparse.Namespace) -> "list[Candidate]":
    """The model of an .ami file with its library, or those that an .ibs file names for this platform."""
    from workbench.makers.files import candidates_of  # noqa: PLC0415 - help starts without it

    return candidates_of(Path(asked.file), Path(asked.library) if asked.library else None)


def _agreed() -> bool:
    if sys.stdin is None or not sys.stdin.isatty():  # None: it was closed before the start
        return False
    sys.stdout.write("Trust it? [y/N] ")
    sys.stdout.flush()
    return sys.stdin.readline().strip().casefold() in ("y", "yes")


def _chosen(words: list[str], ami: "AmiFile") -> "Chosen":
    """Values as they are typed, "name=value"."""
    from workbench.makers.parameter_string import chosen_of  # noqa: PLC0415 - help starts without it

    return chosen_of(ami, texts_of(words))


def texts_of(words: list[str]) -> dict[str, str]:
    """What "NAME=VALUE" says, by name.

    Raises:
        ModelError: a word without an equals sign.
    """
    texts: dict[str, str] = {}
    for word in words:
        name, equals, text = word.partition("=")
        if not equals:
            raise ModelError(f"{quoted(word)} is not a setting; write NAME=VALUE")
        texts[name] = text
    return texts


def _out(asked: argparse.Namespace, content: object, lines: list[str]) -> int:
    if asked.json:
        sys.stdout.write(json.dumps(content, indent=2, ensure_ascii=False) + "\n")
    else:
        sys.stdout.write("\n".join(lines) + "\n")
    return PASSED


def _ami_lines(ami: "AmiFile", bit_time_s: float) -> list[str]:
    lines = [f"{ami.source}: model {ami.root}, IBIS-AMI {ami.version}", f"  {ami.description}"]
    for title, reserved in (("reserved parameters", True), ("the model's own parameters", False)):
        lines.append(title)
        lines += [line for known in ami.parameters if known.reserved == reserved for line in _parameter_lines(known)]
    for title, sentences in _sentences(ami, bit_time_s).items():
        lines += [title, *(f"  {sentence}" for sentence in sentences)] if sentences else []
    return lines


def _parameter_lines(known: "Parameter") -> Iterator[str]:
    initial = known.initial()
    value = "" if initial is None else f" = {initial}"
    yield f"  {known.shown}{value}  ({known.usage}, {' '.join(known.types)}, {_allowed(known)})"
    if known.description:
        yield f"      {known.description}"


def _allowed(known: "Parameter") -> str:
    form = known.format
    if form is None:
        return "no value that can be read"
    if form.name == "Table":
        return f"a table of {len(form.rows)} rows"
    if form.name == "Range":
        return f"{form.values[1]} to {form.values[2]}"
    choices = form.choices()
    shown = ", ".join(str(choice) for choice in choices[:12]) + (", …" if len(choices) > 12 else "")
    return f"{form.name} {shown or ' '.join(map(str, form.values))}".strip()


def _sentences(ami: "AmiFile", bit_time_s: float) -> dict[str, list[str]]:
    """What is said about a model: its figures, what is not run, what is odd."""
    from workbench.makers.flows import refusals  # noqa: PLC0415 - help starts without it
    from workbench.makers.stated import stated_by, unused  # noqa: PLC0415 - as above

    ends = (stated_by(ami, "transmitter", bit_time_s=bit_time_s), stated_by(ami, "receiver", bit_time_s=bit_time_s))
    found = {
        "jitter and noise": [sentence for end in ends for sentence in end.sentences],
        "not used": list(unused(ami)),
        "statistical flow: not run": list(refusals(ami, "statistical")),
        "bit-by-bit flow: not run": list(refusals(ami, "bit-by-bit")),
    }
    return {**found, "remarks on the file": [str(remark) for remark in ami.remarks]}


def _ami_json(ami: "AmiFile", bit_time_s: float) -> dict[str, object]:
    return {
        "file": ami.source, "sha256": ami.sha256, "model": ami.root, "version": ami.version,
        "description": ami.description, "groups": {"/".join(path): text for path, text in ami.groups},
        "parameters": [_parameter_json(known) for known in ami.parameters], **_sentences(ami, bit_time_s),
    }  # fmt: skip


def _parameter_json(known: "Parameter") -> dict[str, object]:
    form = known.format
    return {
        "name": known.shown, "reserved": known.reserved, "usage": known.usage, "type": list(known.types),
        "format": form.name if form else None, "values": list(form.values) if form else [],
        "tips": list(form.tips) if form else [], "rows": [list(row) for row in form.rows] if form else [],
        "default": known.default, "initial": known.initial(), "description": known.description,
    }  # fmt: skip


def _ibs_lines(ibs: "IbsFile") -> list[str]:
    lines = [f"{ibs.source}: IBIS {ibs.version or 'of no stated version'}"]
    for part in ibs.components:
        maker = part.maker or "maker not stated"
        lines.append(f"  part {part.name}, {maker}: {len(part.pins)} pins, {len(part.pairs)} pairs")
        lines += [f"    redriver or retimer from pin {one} to pin {other}" for one, other in part.repeaters]
    for buffer in ibs.buffers:
        direction = buffer.direction or "both or neither"
        edge = f", edge {show(buffer.rise_time_s, 's')} from 20 to 80 %" if buffer.rise_time_s else ""
        lines.append(f"  buffer {buffer.name}: {buffer.kind or 'no kind'} ({direction}){edge}")
        lines += [f"    {line.platform}: {line.library} with {line.ami}" for line in buffer.executables]
    if ibs.skipped:
        lines.append(f"  not read: {', '.join(ibs.skipped)}")
    return [*lines, *(f"  {remark}" for remark in ibs.remarks)]


def _ibs_json(ibs: "IbsFile") -> dict[str, object]:
    return {
        "file": ibs.source, "version": ibs.version,
        "components": [
            {"name": part.name, "maker": part.maker, "pins": len(part.pins),
             "pairs": [list(pair) for pair in part.pairs], "repeaters": [list(pair) for pair in part.repeaters]}
            for part in ibs.components
        ],
        "buffers": [
            {"name": buffer.name, "kind": buffer.kind, "direction": buffer.direction,
             "capacitance_f": buffer.capacitance_f, "voltage_v": buffer.voltage_v, "rise_time_s": buffer.rise_time_s,
             "libraries": [{"platform": line.platform, "library": line.library, "ami": line.ami}
                           for line in buffer.executables]}
            for buffer in ibs.buffers
        ],
        "skipped": list(ibs.skipped), "remarks on the file": [str(remark) for remark in ibs.remarks],
    }  # fmt: skip


def _add_model(commands: "Commands[Parser]") -> None:
    offered = named_command(commands, "model", _EPILOG)
    tasks = offered.add_subparsers(dest="task", metavar="TASK", parser_class=Parser, required=True)
    one = command(tasks, "show", "what is in an .ami or .ibs file: parameters, figures, what is not run", _SHOW)
    one.add_argument("file", metavar="FILE", help=".ami or .ibs file")
    one.add_argument("--rate", metavar="RATE", default="5Gb/s", help="bit rate at which jitter in UI is told (5Gb/s)")
    one.add_argument("--json", action="store_true", help="print JSON")
    one = command(tasks, "trust", "allow a model's library to be run from now on", _TRUST)
    _add_files(one)
    one.add_argument("--yes", action="store_true", help="do not ask")
    one = command(tasks, "response", "a trusted model's gain against frequency", _RESPONSE)
    _add_files(one)
    one.add_argument("--rate", metavar="RATE", default="5Gb/s", help="bit rate that it is told (5Gb/s)")
    one.add_argument(
        "--set", metavar="NAME=VALUE", nargs="+", action="extend", help="parameters that differ from the file"
    )
    add_explain(one)
    one.add_argument("--json", action="store_true", help="print JSON")
    one = command(tasks, "compare", "a model beside the data sheet's table and the program's own figures", COMPARE)
    _add_files(one)
    add_compare_options(one)
    one = command(tasks, "list", "the models that you trust", "exit status: 0 listed, 2 they can't be read\n")
    one.add_argument("--json", action="store_true", help="print JSON")
    one = command(tasks, "forget", "stop trusting a library", "exit status: 0 done, 2 no such library is trusted\n")
    one.add_argument("sha256", metavar="SHA256", help="its SHA-256, or the beginning of it")


def _add_files(offered: Parser) -> None:
    offered.add_argument("file", metavar="FILE", help=".ami file, or .ibs file that names its models")
    offered.add_argument(
        "--library", metavar="LIB", help="the .ami file's library (the one of the same name beside it)"
    )


OFFERS = (CommandOffer("model", _add_model, model),)
