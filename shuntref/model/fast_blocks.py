"""Blocks for which everything asked for is plain arithmetic: the recipes traced into one tape, results in place.

That is so where the torque does not depend on the speed and the flux not on the armature current. Points with anything
out of the ordinary about them (beyond stall, a field that is lost, a table left) are told to the caller, who hands them to
the general solver; the others are done.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from shuntref.model import formulas
from shuntref.model.flux import FluxCurve, FroehlichFlux, ProportionalFlux
from shuntref.model.load import LoadTerms
from shuntref.model.recipes import Recipes, efficiency, recipes_for, resolve
from shuntref.model.setting import Setting
from shuntref.model.tape import Recorder, Tape, Traced
from shuntref.model.validation import LEAST, MOST, every_keeps

__all__ = ["FastBlocks"]

Array = np.ndarray[Any, Any]
_least, _greatest = np.minimum.reduce, np.maximum.reduce
#: points in a block: enough that what Python adds to each array operation is little beside the operation itself, and few
#: enough that the arrays at hand stay in the last cache before the memory
LENGTH = 65536
_CHECKED = ("field_current", "back_emf")
_NONE = np.empty(0, np.intp)


class FastBlocks:
    """The tape of a setting and the quantities asked for."""

    def __init__(self, setting: Setting, out: dict[str, Array]) -> None:
        self.setting, self.names, self.out = setting, tuple(out), out
        self.inputs = tuple(setting.varying)
        recorder = Recorder(len(self.inputs))
        values: dict[str, Any] = {name: recorder.input(i) for i, name in enumerate(self.inputs)}
        recipes = _recipes(setting)
        values = setting.finished({**setting.fixed, **values})
        values["electromagnetic_torque"] = _total(values["load_terms"]) + _total(values["loss_terms"])
        wanted = {name: resolve(name, values, recipes) for name in out}
        self.fixed: dict[str, Array] = {}  # checked quantities that are the same at every point
        for name in _CHECKED:
            value = resolve(name, values, recipes)
            if isinstance(value, Traced):
                wanted[name] = value
            else:
                self.fixed[name] = np.full(1, value, setting.dtype)
        self.wanted = tuple(wanted)
        self.tape = Tape(recorder, list(wanted.values()))
        low, self.high = setting.machine.flux.limits or (
            LEAST,
            np.inf,
        )  # inputs of ordinary size make no infinite current
        self.low = max(low, LEAST)

    @staticmethod
    def possible(setting: Setting) -> bool:
        """Whether this way is open for a setting."""
        terms, loss = setting.terms(), setting.machine.loss_terms
        plain = all(_is_zero(c) for t in (terms, loss) for c in (t.proportional, t.square, t.power))
        rigid = setting.machine.armature_reaction.absent
        feeds_field = setting.behind_line and setting.machine.connection == "shunt"
        return (
            bool(setting.varying) and plain and not terms.functions and not loss.functions and rigid and not feeds_field
        )

    def buffers(self) -> list[Array]:
        """Scratch space of one thread: the tape's buffers, and places for what is checked but not asked for."""
        unasked = len(self.wanted) - len(self.names)
        length = min(LENGTH, self.setting.size)
        return self.tape.buffers(length, self.setting.dtype) + [
            np.empty(length, self.setting.dtype) for _ in range(unasked)
        ]

    def work(self, start: int, stop: int, scratch: list[Array]) -> Array:
        """Work a block out into the results; returns the positions of the points that need the general solver.

        Raises
        ------
        ValueError
            An input that cannot be, with its index.
        """
        size = stop - start
        scratch = [buffer[:size] for buffer in scratch]
        inputs = [self.setting.piece(name, start, stop) for name in self.inputs]
        buffers, unasked = scratch[: self.tape.count], scratch[self.tape.count :]
        results = [*(self.out[name][start:stop] for name in self.names), *unasked]
        self.tape.run(inputs, buffers, results)
        for name, array in zip(self.inputs, inputs, strict=True):
            rule = self.setting.varying[name][1]
            if rule is not None and not every_keeps(array, rule):
                self.setting.block(start, stop)  # it has the words for the value, if it is one that cannot be
        found = {**self.fixed, **dict(zip(self.wanted, results, strict=True))}
        field, emf = found["field_current"], found["back_emf"]
        in_curve = _least(field) >= self.low and (self.high == np.inf or _greatest(field) <= self.high)
        if in_curve and every_keeps(emf, "not negative"):
            return _NONE
        odd = ~((field >= self.low) & (field <= self.high) & (emf >= 0.0) & (emf <= MOST))
        return start + np.flatnonzero(np.broadcast_to(odd, size))


def _is_zero(value: Any) -> bool:
    return type(value) is float and value == 0.0


def _total(terms: LoadTerms) -> Any:
    return terms.constant


def _recipes(setting: Setting) -> Recipes:
    """The recipes of the setting, those that are no plain arithmetic replaced by steps that call them."""
    machine = setting.machine
    recipes = dict(recipes_for(machine.connection, behind_line=setting.behind_line, rigid=True, solved="torque"))
    recipes["armature_current"] = (formulas.armature_current_from_torque, ("electromagnetic_torque", "k_phi"))
    recipes["k_phi"] = (_flux_step, ("flux", "field_current"))
    recipes["reaction_field_current"] = (lambda: 0.0, ())
    recipes["efficiency"] = (_efficiency, ("output_power", "input_power"))
    return recipes


def _flux_step(flux: FluxCurve, field_current: Any) -> Any:
    if not isinstance(field_current, Traced):
        return flux.k_phi_at(field_current)
    if isinstance(flux, ProportionalFlux):
        return flux.k_phi_at(field_current)
    if isinstance(flux, FroehlichFlux):  # no field current is negative here
        return formulas.k_phi_froehlich(flux.remanent_k_phi, flux.froehlich_a, flux.froehlich_b, field_current)
    return _called(flux.k_phi_at)(field_current)


def _efficiency(output_power: Any, input_power: Any) -> Any:
    """The quotient for a machine that drives; put right afterwards where it is driven, or does neither."""
    eta = formulas.efficiency_motoring(output_power, input_power)
    if isinstance(eta, Traced):
        eta.recorder.amend(eta, _put_right)
        return eta
    return efficiency(output_power, input_power)


def _put_right(output_power: Any, input_power: Any, eta: Array) -> None:
    if not np.min(output_power) >= 0.0:  # who drives takes power in: with a field, and turning forwards, as it is here
        eta[...] = efficiency(output_power, input_power)


def _called(function: Callable[..., Any]) -> Callable[..., Any]:
    """A step that calls a function on the arrays as they are and puts its result where it is wanted."""

    def step(*operands: Any) -> Any:
        recorder = next((o.recorder for o in operands if isinstance(o, Traced)), None)
        if recorder is None:
            return function(*operands)

        def operation(*arrays: Any) -> None:
            arrays[-1][...] = function(*arrays[:-1])

        return recorder.step(operation, operands)

    return step
