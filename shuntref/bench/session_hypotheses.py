"""What may have been wrong all session long, each as a change of the machine or the load that can be predicted with."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from shuntref.bench.hypotheses import Change, Changed, Hypothesis, load_times, tachometer_hypotheses
from shuntref.bench.prediction import BenchModel, Setting, scaled_flux
from shuntref.model.flux import FluxCurve
from shuntref.model.load import ConstantPower, Load, ProportionalTorque, SquareTorque
from shuntref.model.machine import Machine
from shuntref.model.reaction import ProportionalReaction

__all__ = ["BentFlux", "session_hypotheses"]


@dataclass(frozen=True)
class BentFlux(FluxCurve):
    """A flux curve bent about one of its points: k_phi relative to that point is raised to a power.

    ``power`` below 1 is a machine more saturated than the curve says, above 1 one less saturated.

    Examples
    --------
    >>> from shuntref.model.flux import ProportionalFlux
    >>> bent = BentFlux(ProportionalFlux(1.0), 0.75, 0.5)
    >>> bent.k_phi(0.75), round(bent.k_phi(0.1875), 6), round(bent.field_current(0.375), 6)
    (0.75, 0.375, 0.1875)
    """

    curve: FluxCurve
    k_phi_there: float
    power: float

    def __post_init__(self) -> None:
        remanent = self.curve.remanent_k_phi
        object.__setattr__(self, "remanent_k_phi", float(self._bent(remanent)) if remanent > 0.0 else 0.0)
        object.__setattr__(self, "limits", self.curve.limits)
        object.__setattr__(self, "zero_flux_field_current", self.curve.zero_flux_field_current)

    def _bent(self, k_phi: Any) -> Any:
        return self.k_phi_there * (k_phi / self.k_phi_there) ** self.power

    def k_phi_at(self, current: Any) -> Any:
        return self._bent(self.curve.k_phi_at(current))

    def slope_at(self, current: Any) -> Any:
        relative = self.curve.k_phi_at(current) / self.k_phi_there
        return self.power * relative ** (self.power - 1.0) * self.curve.slope_at(current)

    def field_current_at(self, k_phi: Any) -> Any:
        return self.curve.field_current_at(self.k_phi_there * (k_phi / self.k_phi_there) ** (1.0 / self.power))


def _machine(change: Callable[[Machine, float], Machine]) -> Change:
    def apply(model: BenchModel, settings: tuple[Setting, ...], figure: float) -> Changed:
        changed = replace(model, machine=lambda values: change(model.machine(values), figure))
        return Changed(changed, settings)

    return apply


def _every(change: Callable[[Setting, float], Setting]) -> Change:
    return lambda model, settings, figure: Changed(model, tuple(change(s, figure) for s in settings))


def _load_law(base_speed: float, words: str, law: Callable[[float], Load]) -> Hypothesis:
    """The load follows another law through the same torque at the base speed; a torque that was read stays as read."""

    def apply(model: BenchModel, settings: tuple[Setting, ...], _: float) -> Changed:
        def load(values: Mapping[str, float]) -> Load:
            return law(float(model.load(values).torque(base_speed)))

        return Changed(replace(model, load=load), settings)

    return Hypothesis("torque not as assumed", apply, lambda _: f"the load torque changes {words}")


def session_hypotheses(
    model: BenchModel, base_k_phi: float, base_speed: float, *, torque_assumed: bool
) -> tuple[Hypothesis, ...]:
    """What may have been wrong all session long.

    Parameters
    ----------
    model : BenchModel
    base_k_phi, base_speed : float
        Of the run with the least added resistance [V s/rad], [rad/s]: the point about which a curve is bent or a load law
        is turned.
    torque_assumed : bool
        Whether the load torque is that of the bench file; the law of a torque that was read is not in question.

    Returns
    -------
    tuple of Hypothesis
    """
    machine = model.machine(model.values())
    ohms = machine.field_resistance

    def warmed(factor: float) -> str:
        return (
            f"the field winding had {ohms * factor:.4g} ohm, {100.0 * (factor - 1.0):+.1f} % from the {ohms:.4g} ohm used, "
            f"as if it had {'warmed up' if factor > 1.0 else 'cooled down'}"
        )

    def bent(power: float) -> str:
        return (
            f"the machine is {'more' if power < 1.0 else 'less'} saturated than the curve used: its flux answers "
            f"{power:.2f} times as strongly to the field current"
        )

    found = [
        Hypothesis(
            "field warmed up", _machine(lambda x, f: replace(x, field_resistance=ohms * f)), warmed, (0.85, 1.35), 1.0
        ),
        Hypothesis(
            "brush drop",
            _machine(lambda x, u: replace(x, brush_drop=u)),
            lambda u: f"the brush drop was {u:.2g} V and not {machine.brush_drop:.2g} V",
            (0.0, 8.0),
            machine.brush_drop,
        ),
        Hypothesis(
            "saturation", _machine(lambda x, p: replace(x, flux=BentFlux(x.flux, base_k_phi, p))), bent, (0.1, 2.5), 1.0
        ),
        Hypothesis(
            "another flux",
            _machine(lambda x, f: replace(x, flux=scaled_flux(x.flux, f))),
            lambda f: f"the flux is {f:.3g} times what was taken for it, at every field current",
            (0.5, 2.0),
            1.0,
        ),
        Hypothesis(
            "armature reaction",
            _machine(lambda x, d: replace(x, armature_reaction=ProportionalReaction(d))),
            lambda d: (
                f"armature reaction takes {1000.0 * d:.2g} mA of field current for every ampere of armature current"
            ),
            (0.0, 0.03),
            0.0,
        ),
        Hypothesis(
            "cable in the line",
            _every(lambda s, r: replace(s, line_resistance=s.line_resistance + r)),
            lambda r: (
                f"{r:.2g} ohm of cable lie between the voltmeter and the machine, so that the supply sags with "
                "the current"
            ),
            (0.0, 5.0),
            0.0,
        ),
        Hypothesis(
            "another load torque",
            _every(load_times),
            lambda f: f"the load torque was {f:.2f} times what was taken for it, all the time",
            (0.0, 2.5),
            1.0,
        ),
        Hypothesis(
            "tachometer calibration",
            lambda m, s, f: Changed(m, s, f),
            lambda f: f"the tachometer shows {100.0 * (f - 1.0):+.2f} % too much",
            (0.8, 1.25),
            1.0,
        ),
        *tachometer_hypotheses("every speed"),
    ]
    if torque_assumed:
        found += [
            _load_law(base_speed, "in proportion to the speed", lambda t: ProportionalTorque(t, base_speed)),
            _load_law(base_speed, "with the square of the speed", lambda t: SquareTorque(t, base_speed)),
            _load_law(base_speed, "as that of a constant power does", lambda t: ConstantPower(t * base_speed)),
        ]
    return tuple(found)
