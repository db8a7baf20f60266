"""One run over a system of equations: what is known grows until the answers are in it."""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Mapping
from typing import Any

import mpmath

from shuntref.exercises.consistency import Consistency
from shuntref.exercises.curve import CurveError
from shuntref.exercises.equation import Equation, LawEquation, ReadingEquation
from shuntref.exercises.groups import Group, find_groups
from shuntref.exercises.missing import MissingData, explain_missing
from shuntref.exercises.physical import backwards, impossible, preferred, roots_reason
from shuntref.exercises.reduction import Reduction, reduce_group
from shuntref.exercises.solution import Choice, Root, Step
from shuntref.exercises.starter_equations import step_equations
from shuntref.exercises.state_laws import LEFT_OUT_OF_GROUPS
from shuntref.exercises.statement import MOST_SECTIONS, STARTER, ExerciseError, Ref
from shuntref.exercises.system import System
from shuntref.quantities.registry import quantity
from shuntref.quantities.text import WrittenValue
from shuntref.quantities.units import unit_scale

__all__ = ["NoPhysicalRoot", "Run"]

Number = Any

#: fruitless groups after which a quick run gives up; a contradictory system would have many
_QUICK_GROUPS = 12


class NoPhysicalRoot(ExerciseError):
    """The equations have no root that a machine could have."""


class Run:
    """One run of the solver over a system; the state of knowledge while it grows."""

    def __init__(
        self, system: System, tolerant: bool, precise: bool, forced: Mapping[Ref, Number],
        assumed: Mapping[Ref, float] | None = None, quick: bool = False,
    ) -> None:  # fmt: skip
        self.quick = quick
        self.system, self.tolerant, self.precise, self.forced = system, tolerant, precise, dict(forced)
        self.assumed = dict(assumed or {})
        self.exercise = system.exercise
        self.equations: list[Equation] = list(system.equations)
        self.values: dict[Ref, Number] = {}
        self.steps: dict[Ref, Step] = {}
        self.choices: list[Choice] = []
        self.trouble: list[ExerciseError] = []
        self.used: set[int] = set()
        self.open: set[int] = set()
        self.consistency = Consistency(self)
        self._holding: dict[Ref, list[int]] = {}
        self._ready: list[int] = []
        self._bad_groups: set[tuple[int, ...]] = set()
        self._steps_added = False

    def asked(self) -> list[Ref]:
        """The quantities the answers need."""
        refs = [ref for answer in self.exercise.answers.values() for ref in (answer.of, answer.against) if ref]
        return [self.system.bind(ref) for ref in refs]

    def value_of(self, ref: Ref) -> Number:
        """Value of a reference of the file."""
        return self.values[self.system.bind(ref)]

    def go(self) -> None:
        """Find everything the answers need."""
        for index in range(len(self.equations)):
            self._watch(index)
        for ref, number in self.system.nothing.items():
            if ref not in self.system.given:
                self._know(ref, mpmath.mpf(number) if self.precise else number)
        for ref, written in self.system.given.items():
            self._know(ref, self._number(written))
        for ref, number in self.assumed.items():
            self._know(ref, mpmath.mpf(number) if self.precise else number)
        while True:
            self._forward()
            if self._add_starter_steps() or self._read_curve():
                continue
            if all(ref in self.values for ref in self.asked()) or not self._solve_a_group():
                break
        self._forward()
        self.consistency.check_readings()
        missing = [ref for ref in self.asked() if ref not in self.values]
        if missing:
            raise self._failure(missing)
        for step in self.steps_for(self.asked()):
            why = impossible(self.exercise, step.ref, step.value)
            if why and not self.forced and not self.tolerant:
                raise NoPhysicalRoot(f"{why}; the data do not describe a machine that could run so")
            why = backwards(self.exercise, {step.ref: step.value})
            if why and not self.forced and not self.tolerant:
                raise NoPhysicalRoot(f"{why}; if that is meant, the state's action is the other one")

    def _number(self, written: WrittenValue) -> Number:
        if not self.precise:
            return written.value
        entry = quantity(written.quantity)
        unit = written.unit_text or entry.unit
        factor, offset = unit_scale(entry, unit, self.exercise.horsepower)
        return mpmath.mpf(written.number_text) * mpmath.mpf(str(factor)) + mpmath.mpf(str(offset))

    def _watch(self, index: int) -> None:
        self.open.add(index)
        for ref in self.equations[index].refs:
            self._holding.setdefault(ref, []).append(index)
        self._look(index)

    def _look(self, index: int) -> None:
        if index in self.open and len(self.equations[index].unknowns(self.values)) <= 1:
            heapq.heappush(self._ready, index)

    def _know(self, ref: Ref, value: Number, step: Step | None = None) -> None:
        self.values[ref] = value
        if step is not None:
            self.steps[ref] = step
        for index in self._holding.get(ref, ()):
            self._look(index)

    def _forward(self) -> None:
        """Use every equation that has one unknown left, the preferred ones first."""
        while self._ready:
            index = heapq.heappop(self._ready)
            if index not in self.open:
                continue
            equation = self.equations[index]
            unknown = equation.unknowns(self.values)
            self.open.discard(index)
            if not unknown:
                self.consistency.check(index)
                continue
            try:
                self._take(index, equation, unknown[0])
            except ExerciseError as error:
                self.trouble.append(error)

    def _take(self, index: int, equation: Equation, ref: Ref) -> None:
        found = equation.solutions(ref, self.values, self.precise)
        if not found:
            raise NoPhysicalRoot(f"{ref} has no real value that satisfies: {equation.title}")
        branch = 0
        if len(found) > 1:
            possible = [i for i, value in enumerate(found) if not self._refused({ref: value})]
            branch = possible[0] if possible else 0
        kind = {"curve": "reading", "whole-number": "whole"}.get(equation.slug, "law")
        inputs = tuple(other for other in equation.refs if other != ref and other in self.values)
        if isinstance(equation, LawEquation):
            inputs = self._held(equation, ref)
        self.used.add(index)
        self._know(ref, found[branch], Step(kind, ref, found[branch], equation, inputs, branch))

    def _held(self, equation: LawEquation, ref: Ref) -> tuple[Ref, ...]:
        """What a law rests on besides ``ref``: what stands in it, and what dropped out because it was found to be zero."""
        names = equation.form(self.values).names
        standing = [equation.binding[name] for name in names if equation.binding[name] != ref]
        gone = [other for other in equation.refs if other not in standing and other != ref
                and other not in self.system.nothing and other in self.values and self.values[other] == 0]  # fmt: skip
        return (*standing, *gone)

    def _refused(self, values: Mapping[Ref, Number]) -> str:
        for ref, value in values.items():
            why = impossible(self.exercise, ref, value)
            if why:
                return why
        return backwards(self.exercise, values)

    def _read_curve(self) -> bool:
        """Take the next value read off the curve that nothing else has determined."""
        for ref, written in self.system.readings.items():
            if ref in self.values:
                continue
            number, beside = self._number(written), self.system.read_at[ref]
            self.consistency.readings_used.add(ref)
            inputs = (beside,) if beside in self.values else ()
            self._know(ref, number, Step("reading", ref, number, ReadingEquation(ref, beside), inputs))
            return True
        return False

    def _add_starter_steps(self) -> bool:
        """Write down the steps of a starter as soon as the number of its sections is known."""
        whole = self.system.bind(Ref(STARTER, "sections"))
        if self._steps_added or self.exercise.starter is None or whole not in self.values:
            return False
        self._steps_added = True
        if not 1 <= self.values[whole] <= MOST_SECTIONS:
            raise NoPhysicalRoot(
                f"starter.sections would be {float(self.values[whole]):g}; from 1 to {MOST_SECTIONS} can be built"
            )
        for equation in step_equations(int(self.values[whole]), self.system.laws):
            binding = {name: self.system.bind(ref) for name, ref in equation.binding.items()}
            self.equations.append(LawEquation(equation.law, binding))
            self._watch(len(self.equations) - 1)
        return True

    def _solve_a_group(self) -> bool:
        """Solve the smallest group that helps; return whether there was one."""
        wanted = [ref for ref in self.asked() if ref not in self.values]
        later: list[Group] = []
        for left_out in LEFT_OUT_OF_GROUPS:
            usable = {
                i: self.equations[i].unknowns(self.values) for i in self.open if self.equations[i].slug not in left_out
            }
            helpful, other = find_groups(usable, wanted)
            later += other
            if any(self._try_group(group) for group in helpful):
                return True
        return any(self._try_group(group) for group in later)

    def _try_group(self, group: Group) -> bool:
        if group.equations in self._bad_groups or (self.quick and len(self._bad_groups) >= _QUICK_GROUPS):
            return False
        try:
            reduction = reduce_group(group, self.equations, self.values, self.precise)
        except CurveError as error:
            self.trouble.append(error)
            reduction = None
        if reduction is None:
            self._bad_groups.add(group.equations)
            return False
        try:
            self._choose(group, reduction)
        except NoPhysicalRoot as error:
            self.trouble.append(error)
            self._bad_groups.add(group.equations)
            return False
        return True

    def _choose(self, group: Group, reduction: Reduction) -> None:
        roots = [Root(values, self._refused(values)) for values in reduction.roots]
        if not roots:
            raise NoPhysicalRoot(
                f"{reduction.unknown} has no real value: what is asked of this machine is out of its reach"
            )
        possible = [root for root in roots if not root.impossible]
        if not possible:
            why = "; ".join(root.impossible for root in roots)
            raise NoPhysicalRoot(f"no root is one that a machine could have: {why}")
        taken, reason = self._pick(possible, reduction)
        choice = Choice(
            reduction.unknown, reduction.coefficients, taken, tuple(r for r in roots if r is not taken), reason
        )
        members = tuple(self.equations[index] for index in group.equations)
        mine = set(group.unknowns)
        inputs: list[Ref] = []
        for member in members:
            held = (member.binding[name] for name in member.form(self.values).names) if isinstance(
                member, LawEquation) else member.refs  # fmt: skip
            inputs += [ref for ref in held if ref not in mine and ref not in inputs]
        self.open -= set(group.equations)
        self.used |= set(group.equations)
        self.choices.append(choice)
        self._know(reduction.unknown, taken.values[reduction.unknown], Step(
            "group", reduction.unknown, taken.values[reduction.unknown], self.equations[reduction.last], tuple(inputs),
            choice=choice, group=members))  # fmt: skip
        for index, ref in reduction.order:
            equation = self.equations[index]
            rests = tuple(other for other in equation.refs if other != ref and other in self.values)
            if isinstance(equation, LawEquation):
                rests = self._held(equation, ref)
            kind = "reading" if equation.slug == "curve" else "law"
            self._know(ref, taken.values[ref], Step(kind, ref, taken.values[ref], equation, rests))

    def _pick(self, possible: list[Root], reduction: Reduction) -> tuple[Root, str]:
        for ref, value in self.forced.items():
            if ref == reduction.unknown:
                return min(possible, key=lambda root: abs(root.values[ref] - value)), "as asked"
        if len(possible) == 1:
            return possible[0], "" if len(reduction.roots) == 1 else "the only root that a machine could have"
        for rule in self.exercise.roots:
            bound = self.system.bind(rule.of)
            values = [self._value_with(root, reduction.unknown, bound) for root in possible]
            known = [(value, place) for place, value in enumerate(values) if value is not None]
            if len(known) == len(possible) and len({value for value, _ in known}) > 1:
                place = (min(known) if rule.take == "smaller" else max(known))[1]
                return possible[place], (
                    f"the exercise asks for the root with the {rule.take} {bound.quantity.replace('_', ' ')}"
                )
        index, ref = preferred([root.values for root in possible])
        return possible[index], roots_reason(ref, possible[index].values, self.values)

    def _value_with(self, root: Root, unknown: Ref, wanted: Ref) -> Number | None:
        """What ``wanted`` is with one of the roots: in the group itself, or further on."""
        if wanted in root.values:
            return root.values[wanted]
        if wanted in self.values or self.forced:
            return None
        run = Run(self.system, True, self.precise, {unknown: root.values[unknown]}, self.assumed)
        try:
            run.go()
        except ExerciseError:
            return None
        return run.values.get(wanted)

    def steps_for(self, refs: Iterable[Ref]) -> list[Step]:
        """The steps that ``refs`` rest on, each after those it needs, in the order in which one would tell them."""
        told: dict[Ref, Step] = {}
        work = [(ref, False) for ref in reversed(list(refs))]
        while work:
            ref, inputs_told = work.pop()
            if ref in told or ref not in self.steps:
                continue
            if inputs_told:
                told[ref] = self.steps[ref]
                continue
            work.append((ref, True))
            work += [(other, False) for other in reversed(self.steps[ref].inputs)]
        return list(told.values())

    def _failure(self, missing: list[Ref]) -> ExerciseError:
        return self.trouble[0] if self.trouble else MissingData(explain_missing(self, missing))
