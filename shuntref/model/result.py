"""What a steady state is when it is handed back: quantities by name, and what became of each point."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import numpy as np

from shuntref.model.recipes import QUANTITIES, Recipes, resolve
from shuntref.model.status import Status, status_text
from shuntref.quantities.near_names import near_names
from shuntref.quantities.registry import REGISTRY

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["SteadyState", "wanted_names"]


def wanted_names(quantities: Iterable[str] | None) -> tuple[str, ...]:
    """The quantities asked for, all of them for None; a name that the model does not offer is refused.

    Examples
    --------
    >>> wanted_names(["speed", "k_phi"])
    ('speed', 'k_phi')
    """
    if quantities is None:
        return QUANTITIES
    names = (quantities,) if isinstance(quantities, str) else tuple(quantities)
    for name in names:
        if name not in QUANTITIES:
            near = near_names(name, QUANTITIES, 3)
            raise ValueError(
                f"quantities has {name!r:.60}, which a steady state does not offer; "
                f"near to it: {', '.join(near)}" if near else
                f"quantities has {name!r:.60}, which a steady state does not offer; offered: {', '.join(QUANTITIES)}"
            )  # fmt: skip
    return names


class SteadyState:
    """The steady state of one point (floats) or of many (arrays), each quantity of the registry an attribute.

    Attributes
    ----------
    speed, speed_rpm, armature_current, ... : float or array
        The quantities that were asked for, in the registry's units. Arrays hold NaN exactly where ``status`` says that
        there is no value; what was given (voltages, resistances) is kept there.
    status : Status or array of uint8
        A code of ``shuntref.model.status.Status``; 0 is a stable running point.
    stable : bool or array of bool
        Whether dT_e/domega < dT_load/domega.
    field_loss : bool or array of bool
        Whether no field current flows and only remanence is left.
    extrapolated : bool or array of bool
        Whether a measured table had to be continued beyond its ends.
    other_solutions : tuple of SteadyState
        With ``all_solutions=True``, the other balances of the same setting; the second of many-pointed states holds each
        point's second, and NaN with the status ``no-solution`` where there is none.

    Examples
    --------
    >>> from shuntref import Machine, ProportionalFlux, steady_state
    >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
    >>> point = steady_state(bench, supply_voltage=120.0, load_torque=6.0)
    >>> point.armature_current, point.status_text, point.stable
    (8.0, 'ok', True)
    """

    __slots__ = (
        "_names", "_recipes", "_values", "extrapolated", "field_loss", "other_solutions", "shape", "stable",
        "status",
    )  # fmt: skip

    def __init__(
        self,
        values: dict[str, Any],
        recipes: Recipes | None,
        names: tuple[str, ...],
        *,
        status: Any = Status.OK,
        stable: Any = True,
        field_loss: Any = False,
        extrapolated: Any = False,
        shape: tuple[int, ...] = (),
        other_solutions: tuple[SteadyState, ...] = (),
    ) -> None:
        self._values = values
        self._recipes = recipes
        self._names = names
        self.status = status
        self.stable = stable
        self.field_loss = field_loss
        self.extrapolated = extrapolated
        self.shape = shape
        self.other_solutions = other_solutions

    def __getattr__(self, name: str) -> Any:
        if name not in QUANTITIES:
            raise AttributeError(f"a steady state has no {name!r}")
        values = self._values
        if name in values:
            return values[name]
        if self._recipes is None:
            raise AttributeError(f"{name} was not asked for; name it in quantities=[...]")
        return resolve(name, values, self._recipes)

    @property
    def status_text(self) -> Any:
        """The slug of the status, such as "ok" or "torque-beyond-stall"; an array of them for many points."""
        return self.status.slug if isinstance(self.status, Status) else status_text(self.status)

    @property
    def quantities(self) -> tuple[str, ...]:
        """Names of the quantities that were asked for."""
        return self._names

    def as_dict(self) -> dict[str, Any]:
        """The quantities that were asked for, by name.

        Returns
        -------
        dict
            Floats or arrays, in the registry units.

        Examples
        --------
        >>> from shuntref import Machine, ProportionalFlux, steady_state
        >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
        >>> point = steady_state(bench, supply_voltage=120.0, load_torque=6.0, quantities=["speed_rpm", "armature_current"])
        >>> point.as_dict()["armature_current"]
        8.0
        """
        return {name: getattr(self, name) for name in self._names}

    def to_frame(self) -> pd.DataFrame:
        """A pandas data frame with a row for each point; column names carry the unit: ``speed_rpm [r/min]``.

        The last columns are ``status`` and ``stable``. Points of more than one dimension are put in C order.

        Returns
        -------
        pandas.DataFrame

        Examples
        --------
        >>> from shuntref import Machine, ProportionalFlux, steady_state
        >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
        >>> point = steady_state(bench, supply_voltage=120.0, load_torque=6.0, quantities=["speed_rpm", "armature_current"])
        >>> list(point.to_frame().columns)
        ['speed_rpm [r/min]', 'armature_current [A]', 'status', 'stable']
        """
        import pandas as pd

        columns = {f"{name} [{REGISTRY[name].unit}]": np.ravel(getattr(self, name)) for name in self._names}
        rows = int(np.prod(self.shape, dtype=np.int64))
        columns["status"] = np.broadcast_to(np.ravel(self.status_text), rows)
        columns["stable"] = np.broadcast_to(np.ravel(self.stable), rows)
        return pd.DataFrame(columns)

    def __repr__(self) -> str:
        if self.shape:
            lost = int(np.count_nonzero(np.asarray(self.status) >= Status.TORQUE_BEYOND_STALL))
            return f"<SteadyState of {'x'.join(map(str, self.shape))} points, {lost} without a solution>"
        speed, current = self.speed_rpm, self.armature_current
        return f"<SteadyState {speed:.6g} r/min, armature current {current:.6g} A, {self.status_text}>"
