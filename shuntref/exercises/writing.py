"""Writing symbols, values and expressions of an exercise: state subscripts, units, and the order a teacher writes in."""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from typing import Any

import sympy as sp

from shuntref.exercises.statement import Exercise, RatioLink, Ref
from shuntref.quantities.registry import REGISTRY

__all__ = ["LatexWriter", "TextWriter", "Writer", "number_text"]

Number = Any
#: what stands for a symbol: its writing, and whether it must be bracketed as a factor
Atom = tuple[str, bool]

#: which factor is written first: torque and flux, then voltage, current, resistance, speed
_RANK = {"V s/rad": 0, "V s/(rad A)": 0, "N m": 1, "V": 2, "A": 3, "ohm": 4, "W": 2, "rad/s": 6, "r/min": 6}
_DIGITS = 5


def number_text(value: Number, digits: int = _DIGITS) -> str:
    """Write a number for a worked solution: as many figures as help, no trailing zeros.

    Examples
    --------
    >>> number_text(104.71975511965977), number_text(37300.0), number_text(0.1), number_text(0.000123456)
    ('104.72', '37300', '0.1', '0.00012346')
    """
    number = float(value)
    if number == 0:
        return "0"
    if number == round(number) and abs(number) < 1e7:
        return str(round(number))
    magnitude = math.floor(math.log10(abs(number)))
    if not -5 <= magnitude <= 7:
        mantissa, _, exponent = f"{number:.{digits - 1}e}".partition("e")
        return f"{mantissa.rstrip('0').rstrip('.')}e{int(exponent)}"
    text = f"{number:.{max(digits - 1 - magnitude, 0)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


class Writer(ABC):
    """Common to all formats: which symbol and which subscript a quantity of a state has."""

    times, dot, pi, ln, because = " × ", "·", "pi", "ln ", "because "

    def __init__(self, exercise: Exercise) -> None:
        self.exercise = exercise
        self.numbers = {name: number for number, name in enumerate(exercise.states, start=1)}
        self.several = len(self.numbers) > 1

    def subscript(self, ref: Ref) -> str:
        """What tells the state of a quantity: its number, the number of a starter step, or nothing."""
        if ref.index:
            return str(ref.index)
        return str(self.numbers[ref.state]) if self.several and ref.state in self.numbers else ""

    def ratio(self, ref: Ref) -> str:
        """The stated ratio of a link as a number, or nothing where it is unknown."""
        link = self.exercise.links[int(ref.state.removeprefix("link-")) - 1]
        entry = link.ratio if isinstance(link, RatioLink) else None
        return number_text(entry.value) if entry else ""

    @abstractmethod
    def symbol(self, ref: Ref) -> str:
        """The symbol of a quantity."""

    @abstractmethod
    def value(self, ref: Ref, value: Number, digits: int = _DIGITS) -> str:
        """A value with its unit."""

    def in_sentence(self, formula: str) -> str:
        """A formula in a line of words."""
        return formula

    def as_given(self, text: str) -> str:
        """A value as the exercise writes it, in a line of words."""
        return text

    def bracket(self, inside: str) -> str:
        """Round brackets."""
        return f"({inside})"

    @abstractmethod
    def fraction(self, above: str, below: str, several_above: bool, several_below: bool) -> str:
        """A fraction."""

    @abstractmethod
    def power(self, base: str, exponent: str, bracketed: bool) -> str:
        """A power."""

    @abstractmethod
    def root(self, inside: str) -> str:
        """A square root."""

    def expression(self, expression: sp.Expr, binding: Mapping[str, Ref], atom: Callable[[str], Atom], dot: str) -> str:
        """An expression over names of a law, each name written by ``atom``, factors joined by ``dot``."""
        return _Printer(self, binding, atom, dot).text(expression)

    def with_symbols(self, expression: sp.Expr, binding: Mapping[str, Ref]) -> str:
        """An expression in symbols."""
        return self.expression(expression, binding, lambda name: (self.symbol(binding[name]), False), self.dot)

    def with_values(self, expression: sp.Expr, binding: Mapping[str, Ref], values: Mapping[Ref, Number]) -> str:
        """The same expression with every symbol replaced by its value and unit."""

        def atom(name: str) -> Atom:
            ref = binding[name]
            return self.value(ref, values[ref]), values[ref] < 0

        return self.expression(expression, binding, atom, self.times)


class TextWriter(Writer):
    """Plain text.

    Examples
    --------
    >>> writer = TextWriter(Exercise("t", "s", {"before": None, "after": None}, {}))
    >>> writer.symbol(Ref("after", "armature_current")), writer.value(Ref("", "armature_resistance"), 0.4)
    ('I_a2', '0.4 ohm')
    """

    def symbol(self, ref: Ref) -> str:
        """See :class:`Writer`."""
        if ref.quantity == "torque_ratio" and ref.state.startswith("link-"):
            return self.ratio(ref) or "ratio"
        symbol, subscript = REGISTRY[ref.quantity].symbol, self.subscript(ref)
        return symbol + subscript if not subscript or "_" in symbol else f"{symbol}_{subscript}"

    def value(self, ref: Ref, value: Number, digits: int = _DIGITS) -> str:
        """See :class:`Writer`."""
        unit = REGISTRY[ref.quantity].unit
        return number_text(value, digits) + ("" if unit == "1" else f" {unit}")

    def fraction(self, above: str, below: str, several_above: bool, several_below: bool) -> str:
        """See :class:`Writer`."""
        spaced = " " in above or " " in below
        above, below = (self.bracket(side) if several or "/" in side or (spaced and self.times in side) else side
                        for side, several in ((above, several_above), (below, several_below)))  # fmt: skip
        return f"{above} / {below}" if spaced else f"{above}/{below}"

    def power(self, base: str, exponent: str, bracketed: bool) -> str:
        """See :class:`Writer`."""
        base = self.bracket(base) if bracketed else base
        raised = {"2": "²", "3": "³"}.get(exponent)
        return base + (raised or (f"^{exponent}" if exponent.isalnum() else f"^({exponent})"))

    def root(self, inside: str) -> str:
        """See :class:`Writer`."""
        return f"sqrt({inside})"


class LatexWriter(Writer):
    r"""LaTeX, for math mode.

    Examples
    --------
    >>> writer = LatexWriter(Exercise("t", "s", {"before": None, "after": None}, {}))
    >>> print(writer.symbol(Ref("after", "armature_current")), writer.value(Ref("", "armature_resistance"), 0.4))
    I_{a2} 0.4\,\Omega
    """

    times, dot, pi, ln, because = r" \cdot ", r"\,", r"\pi", r"\ln ", r"\text{because } "

    def symbol(self, ref: Ref) -> str:
        """See :class:`Writer`."""
        if ref.quantity == "torque_ratio" and ref.state.startswith("link-"):
            return self.ratio(ref) or r"\text{ratio}"
        symbol, subscript = REGISTRY[ref.quantity].latex, self.subscript(ref)
        if not subscript:
            return symbol
        base, underscore, sub = symbol.partition("_")
        sub = sub[1:-1] if sub.startswith("{") else sub
        if not underscore:
            return f"{base}_{{{subscript}}}"
        return f"{base}_{{{sub}{subscript if sub.isalnum() and not sub[-1].isdigit() else ',' + subscript}}}"

    def value(self, ref: Ref, value: Number, digits: int = _DIGITS) -> str:
        """See :class:`Writer`."""
        unit, text = REGISTRY[ref.quantity].unit, number_text(value, digits)
        if "e" in text:
            mantissa, _, exponent = text.partition("e")
            text = rf"{mantissa}\cdot 10^{{{exponent}}}"
        return text + latex_unit(unit)

    def in_sentence(self, formula: str) -> str:
        """See :class:`Writer`."""
        return f"${formula}$"

    def as_given(self, text: str) -> str:
        """See :class:`Writer`."""
        return text.replace("%", r"\%").replace(" ohm", r" $\Omega$")

    def bracket(self, inside: str) -> str:
        """See :class:`Writer`."""
        return rf"\left({inside}\right)"

    def fraction(self, above: str, below: str, several_above: bool, several_below: bool) -> str:
        """See :class:`Writer`."""
        return rf"\frac{{{above}}}{{{below}}}"

    def power(self, base: str, exponent: str, bracketed: bool) -> str:
        """See :class:`Writer`."""
        several = bracketed or base.startswith("k")  # k Phi is one quantity
        return f"{self.bracket(base) if several else base}^{{{exponent}}}"

    def root(self, inside: str) -> str:
        """See :class:`Writer`."""
        return rf"\sqrt{{{inside}}}"


def latex_unit(unit: str) -> str:
    r"""Write a unit for math mode, with the thin space before it.

    Examples
    --------
    >>> print(latex_unit("V s/rad"))
    \,\mathrm{V\,s/rad}
    """
    if unit in ("1", ""):
        return ""
    if unit == "%":
        return r"\,\%"
    if unit == "ohm":
        return r"\,\Omega"
    words = unit.replace(" ", r"\,").replace("ohm", r"\Omega")
    return rf"\,\mathrm{{{words}}}"


class _Printer:
    """One expression, printed with the given atoms."""

    def __init__(self, writer: Writer, binding: Mapping[str, Ref], atom: Callable[[str], Atom], dot: str) -> None:
        self.writer, self.binding, self.atom, self.dot = writer, binding, atom, dot

    def text(self, expression: sp.Expr) -> str:
        """Print a whole expression."""
        if expression.is_Add:
            return self._sum(expression)
        if expression.is_Symbol:
            return self.atom(str(expression))[0]
        if expression.is_Mul:
            return self._product(expression)
        if expression.is_Pow:
            return self._power(expression)
        if isinstance(expression, sp.log):
            return self.writer.ln + self.writer.bracket(self.text(expression.args[0]))
        if expression == sp.pi:
            return self.writer.pi
        if expression.is_Rational and not expression.is_Integer:
            return self.writer.fraction(str(expression.p), str(expression.q), False, False)
        return str(expression)

    def _sum(self, expression: sp.Expr) -> str:
        terms = sorted(expression.args, key=lambda term: (term.could_extract_minus_sign(), self._term_rank(term)))
        text = ""
        for term in terms:
            negative = term.could_extract_minus_sign()
            body = self.text(-term if negative else term)
            if body.startswith("-") and text:
                body = self.writer.bracket(body)
            text += (" - " if negative else " + ") + body if text else (f"-{body}" if negative else body)
        return text

    def _term_rank(self, term: sp.Expr) -> tuple[int, int, str]:
        names = sorted(str(s) for s in term.free_symbols)
        place = min((self._place(name) for name in names), default=99)
        return (int(term.count_ops() > 0 and len(names) > 1), place, names[0] if names else "")

    def _place(self, name: str) -> int:
        return _ORDER[self.binding[name].quantity]

    def _factor_rank(self, factor: sp.Expr) -> tuple[int, int, str]:
        if factor.is_number:
            return (-2 if factor.is_Rational else -1, 0, "")
        names = sorted(str(s) for s in factor.free_symbols)
        ref = self.binding.get(names[0])
        rank = _RANK.get(REGISTRY[ref.quantity].unit, 5) if ref else 5
        return (rank + (10 if factor.is_Add else 0), self._place(names[0]), names[0])

    def _product(self, expression: sp.Expr) -> str:
        above, below = sp.fraction(expression)
        if expression.could_extract_minus_sign():
            if not (-above).is_Add:
                return f"-{self._factor_text(-expression)}"
            above = sp.Add(*(-term for term in (-above).args))  # (U - E)/R and not -(E - U)/R
        if below != 1:
            return self.writer.fraction(
                self._inline(above), self._inline(below), above.is_Add, below.is_Add or below.is_Mul
            )
        return self._factors(expression)

    def _factor_text(self, expression: sp.Expr) -> str:
        body = self.text(expression)
        return self.writer.bracket(body) if expression.is_Add else body

    def _inline(self, expression: sp.Expr) -> str:
        return self._factors(expression) if expression.is_Mul else self.text(expression)

    def _factors(self, expression: sp.Expr) -> str:
        parts = []
        for factor in sorted(sp.Mul.make_args(expression), key=self._factor_rank):
            body = self.text(factor)
            negative = factor.is_Symbol and self.atom(str(factor))[1]
            parts.append(self.writer.bracket(body) if factor.is_Add or negative else body)
        return self.dot.join(parts)

    def _power(self, expression: sp.Expr) -> str:
        base, exponent = expression.as_base_exp()
        if exponent == sp.Rational(1, 2):
            return self.writer.root(self.text(base))
        if exponent.is_Integer and exponent < 0:
            return self.writer.fraction("1", self._inline(base**-exponent), False, base.is_Add)
        body = self.text(base)
        # a value with a unit is raised as a whole: (40 A)²
        bracketed = not base.is_Symbol or " " in body or body.startswith("-") or "," in body
        return self.writer.power(body, self.text(exponent), bracketed)


_FIRST = ("supply_voltage", "source_voltage", "back_emf", "line_current", "armature_current", "field_current")
_ORDER = {name: place for place, name in enumerate((*_FIRST, *(name for name in REGISTRY if name not in _FIRST)))}
