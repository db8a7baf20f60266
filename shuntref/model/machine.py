"""A machine: resistances, flux curve, armature reaction, brush drop, loss torque, connection."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from shuntref.model import formulas
from shuntref.model.flux import FluxCurve
from shuntref.model.load import ConstantTorque, Load, LoadTerms
from shuntref.model.reaction import ArmatureReaction, NoReaction
from shuntref.model.validation import refuse, scalar
from shuntref.quantities.registry import REGISTRY

__all__ = ["COPPER_234_5", "COPPER_235", "Machine"]

#: temperature constant of copper [degC] in the one convention and in the other; neither is assumed anywhere
COPPER_234_5 = 234.5
COPPER_235 = 235.0

_TEXT_LIMIT = 2000
_NO_REACTION = NoReaction()
_NO_LOSS = ConstantTorque(0.0)


@dataclass(frozen=True)
class Machine:
    """A d.c. machine with a shunt winding, as the model knows it.

    Parameters
    ----------
    armature_resistance : float
        [ohm] armature, commutating and compensating windings; not negative.
    field_resistance : float
        [ohm] shunt winding; above zero.
    flux : FluxCurve
        ProportionalFlux, FroehlichFlux or TableFlux.
    armature_reaction : ArmatureReaction
        NoReaction, ProportionalReaction, TableReaction or FluxLoss.
    brush_drop : float
        [V] total of both polarities; not negative.
    line_resistance : float
        [ohm] ahead of both circuits (of the armature circuit alone when separately excited); not negative.
    loss_torque : Load
        Friction, windage and iron loss, as a load that opposes forward motion; its torque must not be negative.
    connection : {"shunt", "separate"}
    name, note : str
    invented : bool
        Whether the machine exists only on paper.
    nameplate : mapping
        ``rated_`` and the name of a registry quantity, with its value in the registry's unit.

    Raises
    ------
    ValueError
        A value that cannot be, named.

    Examples
    --------
    >>> from shuntref.model.flux import ProportionalFlux
    >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0), brush_drop=2.0)
    >>> bench.connection, bench.brush_drop
    ('shunt', 2.0)
    """

    armature_resistance: float
    field_resistance: float
    flux: FluxCurve
    armature_reaction: ArmatureReaction = _NO_REACTION
    brush_drop: float = 0.0
    line_resistance: float = 0.0
    loss_torque: Load = _NO_LOSS
    connection: str = "shunt"
    name: str = ""
    note: str = ""
    invented: bool = False
    nameplate: Mapping[str, float] = field(default_factory=dict, hash=False)
    loss_terms: LoadTerms = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        rules = {
            "armature_resistance": "not negative",
            "field_resistance": "positive",
            "brush_drop": "not negative",
            "line_resistance": "not negative",
        }
        for name, rule in rules.items():
            object.__setattr__(self, name, scalar(name, getattr(self, name), rule))
        kinds: dict[str, type] = {"flux": FluxCurve, "armature_reaction": ArmatureReaction, "loss_torque": Load}
        for name, kind in kinds.items():
            if not isinstance(getattr(self, name), kind):
                raise refuse(name, getattr(self, name), f"a {kind.__name__}")
        if self.connection not in ("shunt", "separate"):
            raise refuse("connection", self.connection, "'shunt' or 'separate'")
        for name in ("name", "note"):
            value = getattr(self, name)
            if not isinstance(value, str) or len(value) > _TEXT_LIMIT:
                raise refuse(name, value, f"text of at most {_TEXT_LIMIT} characters")
        if not isinstance(self.invented, bool):
            raise refuse("invented", self.invented, "true or false")
        object.__setattr__(self, "nameplate", _checked_nameplate(self.nameplate))
        object.__setattr__(self, "loss_terms", _checked_loss(self.loss_torque))

    def with_temperatures(
        self,
        *,
        temperature_constant: float,
        field_from: float | None = None,
        field_to: float | None = None,
        armature_from: float | None = None,
        armature_to: float | None = None,
    ) -> Machine:
        """Return the machine with its windings at other temperatures: R2 = R1 (k + t2)/(k + t1).

        Parameters
        ----------
        temperature_constant : float
            k [degC]. For copper either ``COPPER_234_5`` or ``COPPER_235`` by convention; there is no default.
        field_from, field_to : float, optional
            [degC] Temperature of the shunt winding now, and wanted. Both or neither.
        armature_from, armature_to : float, optional
            [degC] The same for the armature circuit. Brush drop and line resistance stay as they are.

        Returns
        -------
        Machine

        Raises
        ------
        ValueError
            Half a pair, no pair at all, or a temperature at or below -k.

        Examples
        --------
        >>> from shuntref.model.flux import ProportionalFlux
        >>> cold = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
        >>> warm = cold.with_temperatures(temperature_constant=COPPER_235, field_from=20.0, field_to=71.0)
        >>> warm.field_resistance
        192.0
        """
        k = scalar("temperature_constant", temperature_constant, "positive")
        changes = {}
        pairs = {
            "field_resistance": (field_from, field_to),
            "armature_resistance": (armature_from, armature_to),
        }
        for name, (before, after) in pairs.items():
            if before is None and after is None:
                continue
            if before is None or after is None:
                raise ValueError(f"{name}: one of its two temperatures is missing; both or neither are needed")
            t1 = scalar("reference_temperature", before, "finite")
            t2 = scalar("winding_temperature", after, "finite")
            for label, value in (("reference_temperature", t1), ("winding_temperature", t2)):
                if k + value <= 0.0:
                    raise refuse(label, value, f"a temperature above {-k:g} degC")
            changes[name] = formulas.resistance_at_temperature(getattr(self, name), t1, t2, k)
        if not changes:
            raise ValueError(
                "no temperatures are given; field_from and field_to, armature_from and armature_to, or all"
            )
        return dataclasses.replace(self, **changes)


def _checked_nameplate(nameplate: Mapping[str, float]) -> dict[str, float]:
    if not isinstance(nameplate, Mapping):
        raise refuse("nameplate", nameplate, "a mapping of rated_... names to values")
    checked = {}
    for name, value in nameplate.items():
        plain = name.removeprefix("rated_") if isinstance(name, str) else ""
        if plain == name or plain not in REGISTRY:
            raise ValueError(f"nameplate: {name!r:.60} is unknown; 'rated_' and the name of a quantity is needed")
        checked[name] = scalar(name, value, "finite") + 0.0  # a zero without a sign, as a file gives it back
    return checked


def _checked_loss(loss: Load) -> LoadTerms:
    terms = loss.terms()
    for value in (terms.constant, terms.proportional, terms.square, terms.power):
        if np.ndim(value):
            raise refuse("loss_torque", value, "one number")
        if not 0.0 <= value < math.inf:
            raise refuse("loss_torque", float(value), "not negative")
    return terms
