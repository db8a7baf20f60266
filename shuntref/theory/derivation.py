"""The derivation of the speed equation and of the other quantities, carried out by sympy one step at a time."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import sympy as sp

from shuntref.theory.algebra import positive, vanishes
from shuntref.theory.general_state import holds_in_state
from shuntref.theory.laws import law
from shuntref.theory.recipes import RECIPES, options_for, work_out
from shuntref.theory.working import Options
from shuntref.theory.worksheet import Step

__all__ = ["DERIVABLE", "Derivation", "Step", "derive", "step_holds"]

DERIVABLE: tuple[str, ...] = tuple(RECIPES)


@dataclass(frozen=True)
class Derivation:
    """A quantity, what was taken into account, and the steps from the laws to the result."""

    quantity: str
    options: Options
    steps: tuple[Step, ...]

    @property
    def result(self) -> sp.Eq:
        """The last equation: the quantity on the left, what it follows from on the right."""
        return self.steps[-1].result

    @property
    def laws(self) -> tuple[str, ...]:
        """Slugs of the laws used, in the order of their first use."""
        return tuple(dict.fromkeys(step.law for step in self.steps if step.law))

    @property
    def conditions(self) -> tuple[str, ...]:
        """Where the laws used hold, each said once."""
        said = (law(name).when for name in self.laws)
        return tuple(dict.fromkeys(words for words in said if words != "always"))

    @property
    def quantities(self) -> tuple[str, ...]:
        """Names of all quantities that occur, in the order they appear."""
        seen: dict[str, None] = {}
        for step in self.steps:
            for equation in (step.applied, step.result):
                if equation is not None:
                    seen.update(dict.fromkeys(sorted(s.name for s in equation.free_symbols)))
        return tuple(seen)

    def check(self) -> tuple[bool, ...]:
        """Verify every step again and return one verdict per step.

        Each step is put back into the equation it came from, and must leave nothing over; and each result must be true
        of a general state that obeys all the laws.

        Returns
        -------
        tuple of bool

        Examples
        --------
        >>> derive("armature_current").check()
        (True, True)
        """
        assumptions = set(self.laws)
        if self.quantity in ("peak_speed", "peak_k_phi"):
            assumptions.add("peak-speed")
        if self.quantity == "peak_torque":
            assumptions.add("peak-torque")
        if self.options.connection == "separate":
            assumptions.add("current-sum-separate")
        point = _point(self.options)
        return tuple(step_holds(step) and holds_in_state(step, frozenset(assumptions), point) for step in self.steps)


def _point(options: Options) -> str:
    """Which running point lies on the branch that was asked for."""
    if options.reaction:
        return "past the reaction peak" if options.branch == "upper" else "ordinary"
    if options.load != "torque" and options.branch == "lower":
        return "backward root" if options.load == "quadratic" else "near standstill"
    return "weak field" if options.branch == "lower" else "ordinary"


def step_holds(step: Step) -> bool:
    """Put one step back into what it was made from and return whether nothing is left over.

    Examples
    --------
    >>> steps = derive("speed").steps
    >>> all(step_holds(step) for step in steps)
    True
    >>> from dataclasses import replace
    >>> U, R = sp.symbols("supply_voltage armature_circuit_resistance", real=True)
    >>> step_holds(replace(steps[3], result=sp.Eq(steps[3].result.lhs, U/R)))
    False
    """
    before, applied, result = step.before, step.applied, step.result
    if before is None:  # a law written down
        stated = law(step.law).equation
        return bool(result == stated)
    if step.kind == "return":
        return bool(result == before)
    if step.kind == "differentiate":
        return _peaks(before.rhs, result.lhs)
    if step.kind == "solve":
        return vanishes((before.lhs - before.rhs).subs(result.lhs, result.rhs))
    if applied is None:
        return False
    if step.law and not vanishes(law(step.law).residual.subs(applied.lhs, applied.rhs)):
        return False
    back = (result.lhs - result.rhs) - (before.lhs - before.rhs)
    return vanishes(back.subs(applied.lhs, applied.rhs))


def _peaks(curve: sp.Expr, slope: sp.Expr) -> bool:
    """Whether ``slope`` is the limit of the curve's difference quotient, for the one variable that makes it so."""
    step = sp.Symbol("step", positive=True)
    for x in positive(curve).free_symbols:
        quotient = sp.cancel(sp.together((positive(curve).subs(x, x + step) - positive(curve)) / step))
        if vanishes(quotient.subs(step, 0) - positive(slope)):
            return True
    return False


@lru_cache(maxsize=512)
def _derive(quantity: str, options: Options) -> Derivation:
    return Derivation(quantity, options, tuple(work_out(quantity, options).steps))


def derive(quantity: str = "speed", **options: object) -> Derivation:
    """Derive a quantity from the laws, step by step.

    Parameters
    ----------
    quantity : name of the registry; one of ``DERIVABLE``
    options : ``brush_drop``, ``line_resistance``, ``reaction`` (bool); ``flux`` 'general', 'proportional' or
        'froehlich'; ``connection`` 'shunt' or 'separate'; ``detail`` 'field_current', 'totals' or 'parts' (the default
        here: both circuits' resistances split in their parts); ``given`` 'torque', 'speed' or 'current'; ``load``
        'torque', 'quadratic' or 'constant_power'; ``branch`` 'upper' or 'lower'

    Returns
    -------
    Derivation

    Raises
    ------
    ValueError
        For a quantity that has no derivation or an option that has no bearing on it.

    Notes
    -----
    Every step names the law that it puts in, by its slug in ``shuntref.theory.laws``, where its source stands.

    Examples
    --------
    >>> speed = derive("speed")
    >>> len(speed.steps), speed.result.lhs
    (6, speed)
    >>> all(speed.check())
    True
    """
    if quantity in RECIPES and "detail" in RECIPES[quantity].heeds:
        options.setdefault("detail", "parts")
    return _derive(quantity, options_for(quantity, **options))
