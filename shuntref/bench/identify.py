"""The machine from its bench log: every stage that the readings allow, and a machine with the covariance of its parameters."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from shuntref.bench.error_sources import Estimates, fixed
from shuntref.bench.fitting import FitError
from shuntref.bench.identify_flux import flux_from_values, magnetisation_curve
from shuntref.bench.identify_loss import loss_from_values, loss_torque
from shuntref.bench.identify_resistances import armature_from_volt_ampere, effective_field_resistance, field_resistance
from shuntref.bench.instrument_set import InstrumentSet
from shuntref.bench.instruments import Instrument
from shuntref.bench.readings import BenchLog
from shuntref.bench.stage import Identification, nothing_known
from shuntref.bench.uncertainty import coverage_factor
from shuntref.model.machine import Machine

__all__ = ["IdentifiedMachine", "identify"]


@dataclass(frozen=True)
class IdentifiedMachine:
    """What a log says about a machine.

    ``parameters`` are all estimates together, with their common sources of error; ``stages`` how each was found;
    ``cross_checks`` figures found twice that are not in the parameters; ``missing`` what could not be identified, and why.
    """

    parameters: Estimates
    stages: tuple[Identification, ...]
    cross_checks: tuple[Identification, ...] = ()
    missing: tuple[str, ...] = ()
    connection: str = "shunt"
    name: str = ""
    invented: bool = False

    @property
    def warnings(self) -> tuple[str, ...]:
        """The warnings of all stages."""
        return tuple(dict.fromkeys(w for stage in (*self.stages, *self.cross_checks) for w in stage.warnings))

    def value(self, name: str) -> float:
        """Return the value of a parameter."""
        return self.parameters.value(name)

    def standard_uncertainty(self, name: str) -> float:
        """Return the standard uncertainty of a parameter."""
        return self.parameters.standard_uncertainty(name)

    def expanded_uncertainty(self, name: str, coverage: float = 0.95) -> float:
        """Return the expanded uncertainty of a parameter."""
        dof = max(self.parameters.degrees_of_freedom(name), 1.0)
        return coverage_factor(dof, coverage) * self.standard_uncertainty(name)

    def values(self) -> dict[str, float]:
        """Return all parameters as a mapping."""
        return dict(zip(self.parameters.names, map(float, self.parameters.values), strict=True))

    def machine(self, values: Mapping[str, float] | None = None, **changes: Any) -> Machine:
        """Build the model's machine.

        Parameters
        ----------
        values : mapping, optional
            Values of the parameters; left out, the estimates. Others are for propagating uncertainty.
        **changes
            Further fields of :class:`shuntref.model.machine.Machine`.

        Raises
        ------
        FitError
            When something that a machine must have was not identified: which, and what would give it.
        """
        here = {**self.values(), **(values or {})}
        wanting = [name for name in ("armature_resistance", "field_resistance") if name not in here]
        if wanting:
            why = next((m for m in self.missing if m.startswith(wanting[0].replace("_", " "))), "")
            raise FitError(
                f"no machine can be built without its {wanting[0].replace('_', ' ')}" + (f" ({why})" if why else "")
            )
        arguments: dict[str, Any] = {
            "armature_resistance": max(here["armature_resistance"], 0.0),
            "field_resistance": here["field_resistance"],
            "flux": flux_from_values(here),
            "brush_drop": max(here.get("brush_drop", 0.0), 0.0),
            "loss_torque": loss_from_values(here),
            "connection": self.connection,
            "name": self.name,
            "invented": self.invented,
        }
        return Machine(**{**arguments, **changes})

    def report(self) -> str:
        """Return everything found, as text."""
        parts = [stage.report() for stage in self.stages]
        parts += [f"cross-check, {stage.report()}" for stage in self.cross_checks]
        parts += [f"not identified: {reason}" for reason in self.missing]
        return "\n".join(parts)


def identify(
    log: BenchLog,
    instruments: InstrumentSet | Mapping[str, Instrument] | Iterable[Instrument] = (),
    *,
    curve: str = "froehlich",
    remanence: bool | None = None,
    loss_law: str = "auto",
    stated: Estimates | None = None,
    brush_drop: float | None = None,
    connection: str = "shunt",
    scale: str = "residuals",
    name: str = "",
    invented: bool = False,
) -> IdentifiedMachine:
    """Identify whatever the log allows.

    Parameters
    ----------
    log : BenchLog
    instruments : InstrumentSet, mapping or iterable of Instrument
        What is not read by any of them is taken as free of common errors.
    curve : {"froehlich", "proportional", "table"}
    remanence : bool, optional
        See :func:`magnetisation_curve`.
    loss_law : str
        See :func:`loss_torque`.
    stated : Estimates, optional
        Parameters known from elsewhere; they are used where the log has nothing, see
        :func:`shuntref.bench.error_sources.fixed`.
    brush_drop : float, optional
        [V] Taken as known in the volt-ampere test.
    connection : {"shunt", "separate"}
        Of the machine that is built.
    scale : {"residuals", "stated"}
        What sizes the scatter of the readings.
    name, invented
        Passed to the machine.

    Returns
    -------
    IdentifiedMachine

    Notes
    -----
    Order: armature, field, magnetisation curve, loss torque; each stage carries the uncertainty of what it builds on, and
    meters used in several stages stay the same meters. The instruments' limits count as gain and zero errors that are the
    same throughout the log.
    """
    meters = InstrumentSet.of(instruments if not isinstance(instruments, (list, tuple)) else list(instruments))
    known, stages, missing = nothing_known(), [], []

    def attempt(what: str, call: Any) -> None:
        nonlocal known
        try:
            stage = call()
        except FitError as error:
            fallback = [n for n in _PARTS[what] if stated is not None and n in stated.names and n not in known.names]
            if stated is not None and fallback:
                known = known.joined(stated.select(fallback))
                missing.append(f"{error}; the stated value was used")
            else:
                missing.append(str(error))
            return
        stages.append(stage)
        known = known.joined(stage.estimates)

    def armature() -> Identification:
        found = armature_from_volt_ampere(log, meters, brush_drop=brush_drop, scale=scale, known=known)
        if brush_drop is None and found.value("brush_drop") < 0.0:
            again = armature_from_volt_ampere(log, meters, brush_drop=0.0, scale=scale, known=known)
            return again.noted("armature resistance: the brush drop came out below zero and was taken as none")
        return found

    attempt("armature", armature)
    if brush_drop is not None and "brush_drop" not in known.names:
        known = known.joined(fixed({"brush_drop": brush_drop}))
    attempt("field", lambda: field_resistance(log, meters, known=known, scale=scale))
    attempt(
        "curve", lambda: magnetisation_curve(log, meters, curve=curve, remanence=remanence, known=known, scale=scale)
    )
    attempt("loss", lambda: loss_torque(log, meters, law=loss_law, known=known, scale=scale))
    checks = []
    try:
        checks.append(_compared(effective_field_resistance(log, meters, known=known, scale=scale), known))
    except FitError as error:
        if "field_resistance" not in known.names:
            missing.append(str(error))
    if checks and "field_resistance" not in known.names:
        known = known.joined(checks[0].estimates.derived("field_resistance", lambda v: v["effective_field_resistance"]))
        missing.append(
            "field resistance: the effective one, from speeds alone, was used; take volts and amperes of the field"
        )
    return IdentifiedMachine(known, tuple(stages), tuple(checks), tuple(missing), connection, name, invented)


#: expanded uncertainty over the winding resistance above which an agreement with it says nothing about the flux
_TELLING = 0.2


def _compared(check: Identification, known: Estimates) -> Identification:
    """Say whether the winding resistance from speeds alone agrees with the one from volts and amperes."""
    if "field_resistance" not in known.names:
        return check
    both = known.joined(check.estimates)
    gap = both.derived("gap", lambda v: v["effective_field_resistance"] - v["field_resistance"])
    size, dof = gap.value("gap"), max(gap.degrees_of_freedom("gap"), 1.0)
    expanded = coverage_factor(dof) * gap.standard_uncertainty("gap")
    if abs(size) <= expanded and expanded > _TELLING * both.value("field_resistance"):
        return check.noted(
            f"effective field resistance: {both.value('effective_field_resistance'):.3g} ohm from speeds alone, uncertain by "
            f"{expanded:.2g} ohm: too vague to say whether the flux is proportional to the field current"
        )
    if abs(size) <= expanded:
        return check.noted(
            "effective field resistance: it agrees with volts over amperes of the field, so the flux is "
            "proportional to the field current as far as these readings can tell"
        )
    reason = (
        "the flux saturates (a Froehlich curve would add U/b)"
        if size > 0.0
        else "remanence, a warmer winding in the volt-ampere readings, or a load that grows with the speed"
    )
    return check.noted(
        f"effective field resistance: it differs by {size:+.3g} ohm from volts over amperes of the field, "
        f"more than both uncertainties explain; likely {reason}"
    )


_PARTS: dict[str, tuple[str, ...]] = {
    "armature": ("armature_resistance", "brush_drop"),
    "field": ("field_resistance", "reference_temperature"),
    "curve": ("flux_constant", "froehlich_a", "froehlich_b", "remanent_k_phi"),
    "loss": ("loss_torque_constant", "loss_torque_proportional", "loss_torque_square"),
}
