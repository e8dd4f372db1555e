"""The studies' forms: what each is called, what it is for and what it asks. Help is made of these, and loads no engine.

What is typed is read by what knows the matter, which is loaded when there is something to read.
"""

import pkgutil
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

from workbench.errors import StudyError, WorkbenchError
from workbench.quantity import parse
from workbench.studies import kinds
from workbench.wording import quoted

PLATEAU_GUARDS = 1.0
POSITIONS = 50
CURRENT, FIRST = "current", "first"
CLASSES = ("settings", "parts", "layout", "material")
"""The classes of changes, the cheapest first."""
SETTINGS_WORDS = "current, first (every position of its first control), all, or the name of a control"
"""Which settings of a device may be tried."""


class StudyField(NamedTuple):
    """One field of a study's form.

    Attributes:
        key: its name in `Values`.
        option: the word for it on the command line.
        help: what it means, with its default.
        metavar: what stands for its value there; "" for one that is only there or not.
        read: makes its value of what was typed; raises a WorkbenchError with the remedy.
        default: its value where nothing was said.
        several: whether it takes more than one; its value is a tuple then.
        required: whether it has to be said.
        choices: the words that it may hold; empty: any.
    """

    key: str
    option: str
    help: str
    metavar: str = ""
    read: Callable[[str], Any] = str
    default: Any = None
    several: bool = False
    required: bool = False
    choices: tuple[str, ...] = ()

    def value(self, typed: Any) -> Any:  # noqa: ANN401 - a text, several, or whether it is there
        """What was typed, read.

        Raises:
            StudyError: it does not read.
        """
        if typed is None:
            return self.default
        if not self.metavar:
            return bool(typed)
        try:
            return tuple(map(self.read, typed)) if self.several else self.read(typed)
        except WorkbenchError as error:
            raise StudyError(f"{self.option}: {error}") from error


class TypedField(NamedTuple):
    """What the window asks for in words, besides the subject.

    Attributes:
        first: what stands there at first.
        about: what is to be typed.
        tolerances: whether it is a list of tolerances, which the window shows as a table.
        choices: words of which some are chosen, in an order; what is typed are those, with commas between.
    """

    first: str
    about: str
    choices: tuple[str, ...] = ()
    tolerances: bool = False


class StudyForm(NamedTuple):
    """A study's word on the command line, what it finds out, as a phrase, and its fields."""

    word: str
    purpose: str
    fields: tuple[StudyField, ...]


def length_m(typed: str) -> float:
    """A length in m as it is typed, with or without its unit; raises QuantityError."""
    return parse(typed, unit="m")


def whole_number(typed: str) -> int:
    """A whole number as it is typed.

    Raises:
        StudyError: it is none.
    """
    try:
        return int(typed)
    except ValueError as error:
        raise StudyError(f"{quoted(typed)} is not a whole number; write one such as 50") from error


def number(typed: str) -> float:
    """A number as it is typed, without a unit; raises QuantityError."""
    return parse(typed, unit="")


def _tolerance(typed: str) -> object:
    from workbench.studies.variation.tolerances import tolerance_from_text  # noqa: PLC0415 - help starts without it

    return tolerance_from_text(typed)


def _tolerances_of(name: str) -> object:
    from workbench.studies.variation.tolerances import read_tolerances  # noqa: PLC0415 - as above

    return read_tolerances(Path(name))


def _classes(typed: str) -> object:
    from workbench.studies.kinds.remedy import classes_from_text  # noqa: PLC0415 - as above

    return classes_from_text(typed)


def _library(folder: str) -> object:
    from workbench.studies.kinds.remedy import library_in  # noqa: PLC0415 - as above

    return library_in(folder)


LANES = StudyField("lanes", "--lane", "only these lanes", "NAME", several=True)
TOLERANCES = StudyField(
    "tolerances", "--tolerance",
    'what varies and how far: "impedance=±10%", "length=-1%..+2% uniform per lane", "boost:U1=±1 dB", '
    '"vias/through via/stub_m=±0.2 mm"; WHAT is loss, copper loss, impedance, permittivity, length, boost, swing, '
    "gain, emphasis, gap, skew, noise, random jitter, deterministic jitter, each also of one entry or device "
    "(boost:U1), or any number of the catalogue as SECTION/NAME/FIELD; normal, three sigma wide, unless uniform is "
    "said; one deviation per board unless per layer or per lane is said",
    "WHAT=RANGE", _tolerance, (), several=True,
)  # fmt: skip
TOLERANCE_FILES = StudyField(
    "tolerance_files", "--tolerances",
    'files of them, JSON: {"tolerances": [{"on": "impedance", "low": -0.1, "high": 0.1}]}',
    "FILE", _tolerances_of, (), several=True,
)  # fmt: skip
GAPS = StudyField(
    "gaps", "--gap",
    'as if every gap between neighbours were so wide, such as "0.4 mm"; of several gaps an answer each (as they are)',
    "D", length_m, (), several=True,
)  # fmt: skip
"""What every study may be asked at."""

SETTINGS = StudyForm("settings", "which settings serve all lanes of a device best", (
    StudyField(
        "devices", "--device",
        "devices to set; those that share a lane are set together (every device with a lane); U4:2 sets only what "
        "channel 2 of U4 has for itself", "REF", several=True,
    ),
    StudyField(
        "plateau_guards", "--plateau", "how far below the best the plateau reaches, in normalized margin (1)", "G",
        number, PLATEAU_GUARDS,
    ),
))  # fmt: skip
POSITION = StudyForm("position", "where along its lanes a device should stand, and whether it is needed", (
    StudyField("device", "--device", "the device to slide along its lanes", "REF", required=True),
    StudyField(
        "from_m", "--from",
        'min shift, such as "-50 mm"; negative is towards the transmitters (as far as the runs allow)',
        "D", length_m,
    ),
    StudyField("to_m", "--to", "max shift (as far as the runs allow)", "D", length_m),
    StudyField(
        "positions", "--positions", f"how many positions, evenly ({POSITIONS})", "N", whole_number, POSITIONS
    ),
    StudyField(
        "settings", "--settings", f"the settings to try at each position: {SETTINGS_WORDS} (first)", "WHICH",
        default=FIRST,
    ),
))  # fmt: skip
REACH = StudyForm("reach", "how long a run may get, without conditioners and with them", (
    StudyField(
        "run", "--run",
        'the run: the name of its line, "NAME:2" for the second of several, or its element number, from 1',
        "RUN", required=True,
    ),
    LANES,
    StudyField("profiles", "--profile", "interfaces whose limits apply (its own)", "ID", several=True),
    StudyField(
        "settings", "--settings", f"settings to try of the device next to the run: {SETTINGS_WORDS} (current)",
        "WHICH", default=CURRENT,
    ),
    StudyField("longest_m", "--longest", 'longest length to try, such as "2 m" (until it fails)', "D", length_m),
    StudyField("keep_guard", "--keep-guard", "the guard band has to be kept too", default=False),
))  # fmt: skip
CORNERS = StudyForm("corners", "whether lanes hold at the ends of tolerances", (
    TOLERANCES, TOLERANCE_FILES, LANES,
    StudyField(
        "one_at_a_time", "--one-at-a-time", "each tolerance alone (all combinations of ends)", default=False
    ),
))  # fmt: skip
YIELD = StudyForm("yield", "what share of boards holds over tolerance, and what drives it", (
    TOLERANCES, TOLERANCE_FILES, LANES,
    StudyField("draws", "--draws", "how many boards to draw (1000)", "N", whole_number, 1000),
    StudyField("seed", "--seed", "random seed (1)", "N", whole_number, 1),
    StudyField("sobol", "--sobol", "Sobol points instead of independent draws", default=False),
))  # fmt: skip
BUDGET = StudyForm("budget", "the margin budget of a lane, and what would help most", (LANES,))
REMEDY = StudyForm("remedy", "what to change so that a lane passes", (
    LANES,
    StudyField(
        "allow", "--allow",
        "what may be changed, with commas between, tried in that order (settings,parts,layout,material)",
        "CLASSES", _classes, CLASSES,
    ),
    StudyField(
        "corners", "--corners",
        'tolerances at whose corners lanes have to pass too, such as "impedance=±10%"; every margin is then that '
        "of the worst corner",
        "WHAT=RANGE", _tolerance, (), several=True,
    ),
    StudyField(
        "library", "--library", "a folder with entries of your own that may be taken too: parts, lines, materials",
        "FOLDER", _library,
    ),
))  # fmt: skip
FORMS = (SETTINGS, POSITION, REACH, CORNERS, YIELD, BUDGET, REMEDY)
"""In the order in which studies are listed."""
_FILES = ("budget", "corners", "fields", "position", "reach", "remedy", "settings", "yields")
"""The files whose studies have their forms here."""


def forms() -> tuple[StudyForm, ...]:
    """The form of every study; one that has none here is loaded, with all others, to be asked."""
    if {file.name for file in pkgutil.iter_modules(kinds.__path__)} <= set(_FILES):
        return FORMS
    from workbench.studies.registry import STUDIES  # noqa: PLC0415 - loads the engine

    return tuple(StudyForm(one.word, one.purpose, one.fields) for one in STUDIES)
