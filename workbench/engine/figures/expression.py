"""Formulas stated once: shown as text or MathML, with symbols or with numbers put in, and evaluated."""

import cmath
import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from html import escape

from workbench.quantity import show

Number = float | complex
Value = float | complex | tuple[float, ...]
Known = Mapping[str, tuple[Value, str]]
"""What each symbol stands for: its value and unit; a tuple where the symbol has an index."""

_SHOWN_TERMS = 24
_SHOWN_VALUES = 8
_TIGHT = {"*": 2, "/": 2, "+": 1, "-": 1}
SIGNS = {"*": "·", "/": "/", "+": "+", "-": "−"}

FUNCTIONS: dict[str, Callable[[Number], Number]] = {
    "log10": lambda x: math.log10(x.real),
    "sqrt": lambda x: math.sqrt(x.real),
    "abs": abs,
    "cosh": cmath.cosh,
    "sinh": cmath.sinh,
}


class Expression:
    """Base of everything that a formula is made of; Python's operators put two together."""

    def __add__(self, other: "Expression") -> "Expression":
        return Binary("+", self, other)

    def __sub__(self, other: "Expression") -> "Expression":
        return Binary("-", self, other)

    def __mul__(self, other: "Expression") -> "Expression":
        return Binary("*", self, other)

    def __truediv__(self, other: "Expression") -> "Expression":
        return Binary("/", self, other)


@dataclass(frozen=True)
class Symbol(Expression):
    """A quantity's letter and its subscript; `indexed` where it stands for several, which `Total` goes through."""

    letter: str
    sub: str = ""
    indexed: bool = False

    @property
    def name(self) -> str:
        """The symbol as text, by which its value is known."""
        sub = ",".join(filter(None, (self.sub, "k" if self.indexed else "")))
        return f"{self.letter}_{sub}" if sub else self.letter


@dataclass(frozen=True)
class Constant(Expression):
    """A number of the formula itself."""

    value: float
    letter: str = ""


@dataclass(frozen=True)
class Binary(Expression):
    """Two expressions with one of ``+ - * /`` between them."""

    sign: str
    left: Expression
    right: Expression


@dataclass(frozen=True)
class Total(Expression):
    """The sum of an expression over the index of the symbols in it."""

    of: Expression


@dataclass(frozen=True)
class Apply(Expression):
    """One of `FUNCTIONS` of an expression."""

    function: str
    of: Expression


@dataclass(frozen=True)
class Least(Expression):
    """The least of several expressions."""

    parts: tuple[Expression, ...]


@dataclass(frozen=True)
class Smallest(Expression):
    """The least of an expression over the index of the symbols in it."""

    of: Expression


@dataclass(frozen=True)
class Sought(Expression):
    """What a numerical method finds from its inputs: it has a name and no closed form, and isn't evaluated."""

    method: str
    inputs: tuple[Symbol, ...]


def symbols_of(one: Expression) -> Iterator[Symbol]:
    """Every symbol of an expression, as often as it stands there."""
    match one:
        case Symbol():
            yield one
        case Binary(left=left, right=right):
            yield from symbols_of(left)
            yield from symbols_of(right)
        case Total(of=of) | Smallest(of=of) | Apply(of=of):
            yield from symbols_of(of)
        case Least(parts=parts):
            for part in parts:
                yield from symbols_of(part)
        case Sought(inputs=inputs):
            yield from inputs


def is_closed(one: Expression) -> bool:
    """Whether an expression can be evaluated: no numerical method is in it."""
    match one:
        case Sought():
            return False
        case Binary(left=left, right=right):
            return is_closed(left) and is_closed(right)
        case Total(of=of) | Smallest(of=of) | Apply(of=of):
            return is_closed(of)
        case Least(parts=parts):
            return all(map(is_closed, parts))
    return True


def value_of(one: Expression, known: Known) -> Number:  # noqa: PLR0911 - one for each kind of expression
    """An expression's value.

    Raises:
        KeyError: a symbol has no value.
        ValueError: the expression is not closed, or a symbol with an index stands outside a sum.
    """
    match one:
        case Constant(value=value):
            return value
        case Symbol():
            single = known[one.name][0]
            if isinstance(single, tuple):
                raise ValueError(f"{one.name} stands for several values")  # noqa: TRY004 - the formula is wrong
            return single
        case Binary(sign=sign, left=left, right=right):
            a, b = value_of(left, known), value_of(right, known)
            return {"+": lambda: a + b, "-": lambda: a - b, "*": lambda: a * b, "/": lambda: a / b}[sign]()
        case Total(of=of):
            return sum((value_of(of, each) for each in _each(of, known)), 0.0)
        case Smallest(of=of):
            return min(value_of(of, each).real for each in _each(of, known))
        case Apply(function=function, of=of):
            return FUNCTIONS[function](value_of(of, known))
        case Least(parts=parts):
            return min(value_of(part, known).real for part in parts)
    raise ValueError(f"{type(one).__name__} has no closed form")


def _each(of: Expression, known: Known) -> Iterator[Known]:
    """What is known at each value of the index."""
    several = {symbol.name for symbol in symbols_of(of) if symbol.indexed}
    columns = {name: (known[name][0], known[name][1]) for name in several}
    counts = {len(value) for value, _ in columns.values() if isinstance(value, tuple)}
    for at in range(max(counts, default=0)):
        here = {name: (value[at], unit) for name, (value, unit) in columns.items() if isinstance(value, tuple)}
        yield {**known, **here}


def as_text(one: Expression, known: Known | None = None) -> str:  # noqa: PLR0911 - one for each kind of expression
    """An expression as a line of text.

    Args:
        one: the expression.
        known: values to put in for the symbols; None: the symbols stay.

    Raises:
        TypeError: it is none of this module's kinds.
    """
    match one:
        case Constant(value=value, letter=letter):
            return letter or f"{value:g}"
        case Symbol():
            return one.name if known is None else _shown(*known[one.name])
        case Binary(sign=sign, left=left, right=right):
            first = _bracketed(left, as_text(left, known), sign)
            second = _bracketed(right, as_text(right, known), sign, after=True)
            return f"{first} {SIGNS[sign]} {second}"
        case Total(of=of):
            return f"Σ {_bracketed(of, as_text(of), '*')}" if known is None else _terms(of, known)
        case Smallest(of=of):
            return f"min_k({as_text(of)})" if known is None else f"min({_compared(of, known)})"
        case Apply(function="abs", of=of):
            return f"|{as_text(of, known)}|"
        case Apply(function=function, of=of):
            return f"{function}({as_text(of, known)})"
        case Least(parts=parts):
            return f"min({', '.join(as_text(part, known) for part in parts)})"
        case Sought(method=method, inputs=inputs):
            given = [each.name if known is None else f"{each.name} = {_shown(*known[each.name])}" for each in inputs]
            return f"({method}, given {', '.join(given)})"
    raise TypeError(f"{type(one).__name__} is no expression")


def _terms(of: Expression, known: Known) -> str:
    several = list(_each(of, known))
    # What is left over is told in the symbol's own unit, which products don't have: they are all shown.
    most = _SHOWN_TERMS if isinstance(of, Symbol | Apply) else len(several)
    terms = [as_text(of, each) for each in several[:most]]
    if len(several) > most:
        rest = sum((value_of(of, each) for each in several[most:]), 0.0)
        unit = known[next(symbol.name for symbol in symbols_of(of) if symbol.indexed)][1]
        terms.append(f"{_shown(rest, unit)} of {len(several) - most} more")
    return " + ".join(terms) or "0"


def _compared(of: Expression, known: Known) -> str:
    """What the least is chosen of: the smallest first, and how many more."""
    several = sorted(_each(of, known), key=lambda each: value_of(of, each).real)
    terms = [as_text(of, each) for each in several[:_SHOWN_VALUES]]
    more = [f"{len(several) - _SHOWN_VALUES} more"] if len(several) > _SHOWN_VALUES else []
    return ", ".join([*terms, *more])


def _shown(value: Value, unit: str) -> str:
    if isinstance(value, tuple):
        shown = [show(each, unit) for each in value[:_SHOWN_VALUES]]
        text = f"[{', '.join([*shown, '…'] if len(value) > _SHOWN_VALUES else shown)}]"
    elif isinstance(value, complex):
        sign = "-" if value.imag < 0.0 else "+"
        text = f"({value.real:.5g} {sign} {abs(value.imag):.5g}j){f' {unit}' if unit else ''}"
    else:
        text = f"({show(value, unit)})" if value < 0.0 else show(value, unit)
    return re.sub(r"(?<!e)-", "−", text)


def _bracketed(part: Expression, text: str, sign: str, *, after: bool = False) -> str:
    if isinstance(part, Total):
        return f"({text})" if " + " in text and (sign in "*/" or (after and sign == "-")) else text
    if not isinstance(part, Binary):
        return text
    looser = _TIGHT[part.sign] < _TIGHT[sign]
    return f"({text})" if looser or (after and sign in "-/" and _TIGHT[part.sign] == _TIGHT[sign]) else text


def as_mathml(left: Symbol, right: Expression | None) -> str:
    """An equation as a MathML element; a bare symbol where it has no right side."""
    row = _ml(left) if right is None else f"{_ml(left)}<mo>=</mo>{_ml(right)}"
    return f'<math display="block"><mrow>{row}</mrow></math>'


def _ml(one: Expression) -> str:  # noqa: C901, PLR0911 - one for each kind of expression
    match one:
        case Constant(value=value, letter=letter):
            return f"<mi>{escape(letter)}</mi>" if letter else f"<mn>{value:g}</mn>"
        case Symbol(letter=letter):
            sub = one.name.removeprefix(letter).removeprefix("_")
            base = f"<mi>{escape(letter)}</mi>"
            return f"<msub>{base}<mi>{escape(sub)}</mi></msub>" if sub else base
        case Binary(sign="/", left=left, right=right):
            return f"<mfrac><mrow>{_ml(left)}</mrow><mrow>{_ml(right)}</mrow></mfrac>"
        case Binary(sign=sign, left=left, right=right):
            return f"{_fenced(left, sign)}<mo>{SIGNS[sign]}</mo>{_fenced(right, sign, after=True)}"
        case Total(of=of):
            return f"<munder><mo>∑</mo><mi>k</mi></munder>{_fenced(of, '*')}"
        case Smallest(of=of):
            return f"<munder><mi>min</mi><mi>k</mi></munder>{_fenced(of, '*')}"
        case Apply(function="sqrt", of=of):
            return f"<msqrt>{_ml(of)}</msqrt>"
        case Apply(function="abs", of=of):
            return f"<mrow><mo>|</mo>{_ml(of)}<mo>|</mo></mrow>"
        case Apply(function=function, of=of):
            return f"<mi>{function}</mi><mrow><mo>(</mo>{_ml(of)}<mo>)</mo></mrow>"
        case Least(parts=parts):
            inside = "<mo>,</mo>".join(f"<mrow>{_ml(part)}</mrow>" for part in parts)
            return f"<mi>min</mi><mrow><mo>(</mo>{inside}<mo>)</mo></mrow>"
        case Sought(method=method, inputs=inputs):
            inside = "<mo>,</mo>".join(map(_ml, inputs))
            return f"<mrow><mo>(</mo><mtext>{escape(method)}, given </mtext>{inside}<mo>)</mo></mrow>"
    raise TypeError(f"{type(one).__name__} is no expression")


def is_fenced(part: Expression, sign: str, *, after: bool = False) -> bool:
    """Whether a part beside a sign (`after` it, else before) stands in brackets where fractions are set with a line."""
    fraction = isinstance(part, Binary) and part.sign == "/"
    return not fraction and _bracketed(part, "", sign, after=after) == "()"


def _fenced(part: Expression, sign: str, *, after: bool = False) -> str:
    inner = _ml(part)
    return f"<mrow><mo>(</mo>{inner}<mo>)</mo></mrow>" if is_fenced(part, sign, after=after) else inner
