"""A maker's model (IBIS-AMI) as a board uses it: which one, by the hashes of its files, and how its parameters are set.

The board holds no code and no trust: whether these bytes may run is the user's own say, kept apart from every board.
"""

from typing import Annotated, Literal

from workbench.facts import choice, text
from workbench.parts.record import Problem, Record

_HASH = 64


class ModelValue(Record, kw_only=True):
    """A parameter of a model that is set otherwise than its file has it."""

    parameter: Annotated[
        str, text("Parameter", "Its name, after those of the branches around it: taps/-1.", required=True)
    ]
    value: Annotated[str, text("Value", "The value, as the parameter file would write it.")]


class ModelUse(Record, kw_only=True):
    """A maker's model: its name, the hashes of its files, and the values of its parameters."""

    model: Annotated[str, text("Model", "The model's name, as its parameter file has it.", required=True)]
    maker: Annotated[str, text("Maker", "Who made it, as the .ibs file has it.")] = ""
    library: Annotated[str, text("Library", "Name of the library's file.")] = ""
    library_sha256: Annotated[str, text("SHA-256", "SHA-256 of the library, hexadecimal.", required=True)]
    ami_sha256: Annotated[
        str, text("SHA-256 of parameters", "SHA-256 of the parameter file, hexadecimal.", required=True)
    ]
    corner: Annotated[
        Literal["typ", "slow", "fast"], choice("Corner", "Whose values hold where nothing else is set.")
    ] = "typ"
    parameters: Annotated[
        tuple[ModelValue, ...], choice("Parameters", "Those that are set otherwise than the file has them.")
    ] = ()

    def problems(self) -> tuple[Problem, ...]:
        """A hash that is none, or a parameter that is set twice."""
        found = []
        for field in ("library_sha256", "ami_sha256"):
            value = getattr(self, field)
            if len(value) != _HASH or set(value) - set("0123456789abcdef"):
                found.append(Problem(field, "it is no SHA-256", "write its 64 hexadecimal digits, or import it again"))
        names = [one.parameter for one in self.parameters]
        if len(set(names)) < len(names):
            found.append(Problem("parameters", "a parameter is set twice", "keep one of the two values"))
        return tuple(found)

    def value_of(self, parameter: str) -> str | None:
        """The value that a parameter is set to; None where its file's own holds."""
        return next((one.value for one in self.parameters if one.parameter == parameter), None)
