"""Blocks for which everything asked for is plain arithmetic: the recipes traced into one tape, results in place.

That is so where the torque does not depend on the speed and the flux not on the armature current. A block with anything
out of the ordinary in it (an input that cannot be, a point beyond stall, a field that is lost, a table left) is handed
back, to be looked at point by point by the general solver.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from shuntref.model import circuit_formulas as formulas
from shuntref.model.flux import FluxCurve, FroehlichFlux, ProportionalFlux
from shuntref.model.load import LoadTerms
from shuntref.model.recipes import Recipes, recipes_for, resolve
from shuntref.model.setting import Setting
from shuntref.model.tape import Recorder, Tape, Traced
from shuntref.model.validation import LEAST, MOST

__all__ = ["FastBlocks"]

Array = np.ndarray[Any, Any]
_least, _greatest = np.minimum.reduce, np.maximum.reduce
#: points in a block: as many as keep the cost of a call small beside its work, fewer where many arrays share the cache
_LONG, _SHORT, _FEW = 16384, 8192, 12
_CHECKED = ("field_current", "back_emf")


class FastBlocks:
    """The tape of a setting and the quantities asked for."""

    def __init__(self, setting: Setting, names: tuple[str, ...], out: dict[str, Array]) -> None:
        self.setting, self.names, self.out = setting, names, out
        self.inputs = tuple(setting.varying)
        recorder = Recorder(len(self.inputs))
        values: dict[str, Any] = {name: recorder.input(i) for i, name in enumerate(self.inputs)}
        recipes = _recipes(setting)
        values = setting.finished({**setting.fixed, **values})
        values["electromagnetic_torque"] = _total(values["load_terms"]) + _total(values["loss_terms"])
        wanted = [resolve(name, values, recipes) for name in (*_CHECKED, *names)]
        self.tape = Tape(recorder, wanted)
        arrays = len(self.inputs) + self.tape.count + len(wanted)
        self.length = _LONG if arrays <= _FEW else _SHORT

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
        return self.tape.buffers(self.length, self.setting.dtype) + [
            np.empty(self.length, self.setting.dtype) for _ in _CHECKED
        ]

    def work(self, start: int, stop: int, scratch: list[Array]) -> bool:
        """Work a block out into the results; False where it needs the general solver."""
        size = stop - start
        if size < self.length:
            scratch = [buffer[:size] for buffer in scratch]
        inputs = [self.setting.piece(name, start, stop) for name in self.inputs]
        field, emf = scratch[-2:]
        results = [field, emf, *(self.out[name][start:stop] for name in self.names)]
        self.tape.run(inputs, scratch[:-2], results)
        for name, array in zip(self.inputs, inputs, strict=True):
            rule = self.setting.varying[name][1]
            if rule == "not negative" and not _least(array) >= 0.0:
                return False
            if rule == "positive" and not _least(array) >= LEAST:
                return False
        if not (_least(field) > 0.0 and _least(emf) >= 0.0 and _greatest(emf) <= MOST):
            return False
        most = _greatest(field)  # what is infinite among the inputs shows in the field current or in the EMF
        limits = self.setting.machine.flux.limits
        return bool(most < np.inf) if limits is None else bool(most <= limits[1] and _least(field) >= limits[0])


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
    efficiency, arguments = recipes["efficiency"]
    recipes["efficiency"] = (_called(efficiency), arguments)
    return recipes


def _flux_step(flux: FluxCurve, field_current: Any) -> Any:
    if not isinstance(field_current, Traced):
        return flux.k_phi_at(field_current)
    if isinstance(flux, ProportionalFlux):
        return flux.k_phi_at(field_current)
    if isinstance(flux, FroehlichFlux):  # no field current is negative here
        return formulas.k_phi_froehlich(flux.remanent_k_phi, flux.froehlich_a, flux.froehlich_b, field_current)
    return _called(flux.k_phi_at)(field_current)


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
