"""Slips that put a wrong law in the place of a right one."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import sympy as sp

from shuntref.exercises.restating import without
from shuntref.exercises.slips import Slip, Slipped
from shuntref.exercises.statement import Exercise
from shuntref.theory.laws import law
from shuntref.theory.laws.law import Law
from shuntref.theory.symbols import symbol as s

__all__ = ["SLIPS"]

Replaced = Mapping[str, tuple[Any, Any]]


def _wrong(replaced: Replaced) -> dict[str, Law]:
    """Laws of the same slug with other equations."""
    return {slug: Law(slug, law(slug).title, sp.Eq(left, right)) for slug, (left, right) in replaced.items()}


Restated = Callable[[Exercise], Iterator[Exercise]]


def _as_it_is(exercise: Exercise) -> Iterator[Exercise]:
    yield exercise


def _slip(
    name: str,
    title: str,
    broken: str,
    description: str,
    effect: str,
    ways: Sequence[Replaced],
    kind: str = "law",
    restated: Restated = _as_it_is,
    also: Restated | None = None,
) -> Slip:
    """A slip by replaced laws; ``restated`` are the statements they are tried on, ``also`` statements without them."""
    books = [_wrong(replaced) for replaced in ways]

    def apply(exercise: Exercise) -> Iterator[Slipped]:
        for other in restated(exercise):
            for laws in books:
                yield Slipped(other, laws)
        for other in also(exercise) if also else ():
            yield Slipped(other)

    return Slip(name, title, kind, broken, description, effect, apply)


def _current_unread(exercise: Exercise) -> Iterator[Exercise]:
    """The exercise, and the exercise of someone who does not see that the current follows from the one in the line."""
    yield exercise
    if any(answer.of.quantity == "armature_current" for answer in exercise.answers.values()):
        yield without(exercise, "line_current")


def _drop_ignored_once(exercise: Exercise) -> Iterator[Exercise]:
    """The armature drop left out in one state only, as where a light load is taken for none."""
    if len(exercise.states) > 1:
        for name, state in exercise.states.items():
            if "armature-drop" not in state.neglect | exercise.neglect:
                states = {**exercise.states, name: replace(state, neglect=state.neglect | {"armature-drop"})}
                yield replace(exercise, states=states)


def _where_a_resistor_is_asked(exercise: Exercise) -> Iterator[Exercise]:
    """The exercise, if it asks for an added resistance; elsewhere this slip is another's number by chance."""
    if {answer.of.quantity for answer in exercise.answers.values()} & {
        "added_armature_resistance",
        "added_field_resistance",
    }:
        yield exercise


_U, _E, _R, _I_a, _I_f, _I = (
    s(name)
    for name in (
        "supply_voltage", "back_emf", "armature_circuit_resistance", "armature_current", "field_current", "line_current",
    )
)  # fmt: skip
_U_b, _T, _w, _n, _k = (s(name) for name in ("brush_drop", "electromagnetic_torque", "speed", "speed_rpm", "k_phi"))
_P_e, _P_in, _P_out, _eta = (s(name) for name in ("electromagnetic_power", "input_power", "output_power", "efficiency"))
_I_fe, _I_fr = s("effective_field_current"), s("reaction_field_current")
_Z, _Phi, _P, _A = (s(name) for name in ("conductors", "flux_per_pole", "poles", "parallel_paths"))
_K, _N, _R_a, _I_1, _I_2 = (
    s(name) for name in ("current_ratio", "sections", "armature_resistance", "upper_current", "lower_current")
)
_net = _U - _U_b
_losses = ("added_armature_loss", "added_field_loss", "armature_copper_loss", "brush_loss", "field_copper_loss", "line_loss",
           "rotational_loss")  # fmt: skip


def _balance(left: Any, right: Any) -> Replaced:
    """A wrong voltage balance of the armature circuit, as it reads in a motor and in either direction of the current."""
    signed = {_U_b: _U_b * sp.sign(_I_a)}
    return {"armature-circuit": (left, right), "armature-circuit-signed": (left, right.subs(signed))}


def _loss_sum(*left_out: str) -> Any:
    return sum(s(name) for name in _losses if name not in left_out)


SLIPS: tuple[Slip, ...] = (
    _slip(
        "line-current-for-armature-current", "line current taken for armature current", "current-sum, I = I_a + I_f",
        "The current in the line was used in the armature circuit; the field current was not taken off it.",
        "The armature drop, the torque and the losses come out too large, the back EMF too small.",
        [{"current-sum": (_I, _I_a)},
         {"electromagnetic-power": (_P_e, _E * _I)},
         {"electromagnetic-power": (_P_e, _E * _I), "torque": (_T * _w, _E * _I)},
         {"torque": (_T, _k * _I)}],
    ),
    _slip(
        "field-current-on-the-wrong-side", "field current added where it is to be subtracted", "current-sum, I = I_a + I_f",
        "The field current was added to the line current to get the armature current (right for a generator's output).",
        "The armature current comes out too large by twice the field current.",
        [{"current-sum": (_I, _I_a - _I_f)}, {"current-sum": (_I, _I_a + sp.sign(_I_a) * _I_f)}],
    ),
    _slip(
        "back-emf-ignored", "back EMF ignored", "armature-circuit, U = E + I_a R + U_b",
        "The whole supply voltage was put across the armature resistance, as at standstill.",
        "The current of a running machine comes out many times too large.",
        [_balance(_U, _I_a * _R + _U_b)],
        restated=_current_unread,
    ),
    _slip(
        "generator-sign-for-motor", "E = U + I_a R, the generator's sign, in a motor (or the motor's in a generator)",
        "armature-circuit, U = E + I_a R + U_b",
        "The armature drop was added to the supply voltage instead of being taken off it, or the other way about.",
        "The back EMF and with it the speed move the wrong way with the load.",
        [_balance(_E, _U + _I_a * _R + _U_b),
         {"armature-circuit": _balance(_E, _U + _I_a * _R + _U_b)["armature-circuit"]},
         {"armature-circuit-signed": _balance(_E, _U + _I_a * _R + _U_b)["armature-circuit-signed"]}],
    ),
    _slip(
        "armature-drop-ignored", "armature drop ignored", "armature-circuit, U = E + I_a R + U_b",
        "The back EMF was taken as the supply voltage; I_a R was left out.",
        "The speed of a loaded motor comes out too high, and armature resistance seems to do nothing.",
        [_balance(_U, _E + _U_b), _balance(_U, _E)],
        also=_drop_ignored_once,
    ),
    _slip(
        "own-resistance-not-taken-off", "resistance of the whole circuit taken for the resistor",
        "armature-circuit-resistance, R = R_a + R_ax, or field-circuit-resistance, R_ft = R_f + R_fx",
        "The winding's own resistance was not taken off what the circuit needs.", "The resistor comes out too large.",
        [{"armature-circuit-resistance": (_R, s("added_armature_resistance"))},
         {"field-circuit-resistance": (s("field_circuit_resistance"), s("added_field_resistance"))}],
        restated=_where_a_resistor_is_asked,
    ),
    _slip(
        "brush-drop-added", "brush drop added to the supply voltage", "armature-circuit, U = E + I_a R + U_b",
        "The brush drop was taken with the wrong sign.", "The back EMF is off by twice the drop.",
        [_balance(_U, _E + _I_a * _R - _U_b)],
    ),
    _slip(
        "line-resistance-forgotten", "resistance of the line forgotten", "line-drop, U_s = U + I R_l",
        "The voltage of the source was put across the machine.", "Flux and speed come out too large.",
        [{"line-drop": (s("source_voltage"), _U)}],
    ),
    _slip(
        "speed-proportional-to-field", "speed taken in proportion to the flux instead of inversely",
        "armature-emf, E = kPhi omega", "The ratio of the fluxes was put the wrong way up.",
        "Weakening the field seems to slow the motor.",
        [{"armature-emf": (_E * _k, _w)},
         {"armature-emf": (_E * _k, _w), **_balance(_U, _E + _U_b)}],
    ),
    _slip(
        "emf-ratio-upside-down", "ratio of the back EMFs put upside down", "armature-emf, E = kPhi omega",
        "The speed was taken inversely as the back EMF.", "The speed rises where it should fall.",
        [{"armature-emf": (_E * _w, _k)}],
    ),
    _slip(
        "supply-ratio-for-emf-ratio", "speeds taken in the ratio of the supply voltages", "armature-emf, E = kPhi omega",
        "The supply voltage was put where the back EMF belongs.", "The effect of the armature drop on the speed is lost.",
        [{"armature-emf": (_U, _k * _w)}],
    ),
    _slip(
        "flux-not-squared-in-torque-term", "flux not squared in the torque term", "torque, T = kPhi I_a",
        "The speed was taken as U/kPhi - T R/kPhi: the torque was used for the armature current, without dividing by kPhi.",
        "The drop of speed with torque comes out wrong, more so the weaker the field.",
        [{"torque": (_T, _I_a), "shaft-power": (_P_e, _T * _k * _w)}],
    ),
    _slip(
        "armature-input-for-developed-power", "armature input taken for developed power",
        "electromagnetic-power, P_e = E I_a", "U I_a was used where E I_a belongs; the armature copper loss was not taken off.",
        "The torque and the developed power come out too large.",
        [{"electromagnetic-power": (_P_e, _U * _I_a)},
         {"electromagnetic-power": (_P_e, _U * _I_a), "torque": (_T * _w, _U * _I_a)},
         {"electromagnetic-power": (_P_e, _U * _I)},
         {"electromagnetic-power": (_P_e, _U * _I), "torque": (_T * _w, _U * _I)}],
    ),
    _slip(
        "r-min-for-rad-per-s", "r/min used as rad/s", "speed-conversion, omega = 2 pi n/60",
        "The number of revolutions a minute was used as an angular velocity.", "Torque or power are off by 9.55.",
        [{"speed-conversion": (_w, _n)}], "unit",
    ),
    _slip(
        "two-pi-forgotten", "2 pi forgotten", "speed-conversion, omega = 2 pi n/60",
        "Revolutions a second were used as radians a second.", "Torque or power are off by 6.28.",
        [{"speed-conversion": (_w, _n / 60)},
         {"winding-constant": (_k, _P * _Z * _Phi / _A)}], "unit",
    ),
    _slip(
        "sixty-forgotten", "60 forgotten", "speed-conversion, omega = 2 pi n/60",
        "The minute was not turned into seconds.", "Torque or power are off by 60.",
        [{"speed-conversion": (_w, 2 * sp.pi * _n)}], "unit",
    ),
    _slip(
        "pi-for-two-pi", "pi taken for 2 pi", "speed-conversion, omega = 2 pi n/60",
        "One revolution was taken as pi radians.", "Torque or power are off by 2.",
        [{"speed-conversion": (_w, sp.pi * _n / 60)}, {"winding-constant": (_k, _P * _Z * _Phi / (sp.pi * _A))}], "unit",
    ),
    _slip(
        "efficiency-from-developed-power", "efficiency worked out from the developed power", "efficiency, eta = P_out/P_in",
        "The developed power was taken as output; the rotational loss was not taken off.", "The efficiency comes out too high.",
        [{"efficiency": (_eta, _P_e / _P_in)}],
    ),
    _slip(
        "efficiency-left-out", "efficiency left out", "efficiency, eta = P_out/P_in",
        "The output was taken as the input.", "The current comes out too small.",
        [{"efficiency": (_P_in, _P_out)}],
    ),
    _slip(
        "efficiency-upside-down", "efficiency applied the wrong way", "efficiency, eta = P_out/P_in",
        "The output was multiplied by the efficiency to get the input.", "The input comes out smaller than the output.",
        [{"efficiency": (_P_in, _eta * _P_out)}],
    ),
    _slip(
        "field-copper-left-out", "field copper loss left out", "input-power, P_in = U I",
        "The input of the field circuit was left out of the input power, or the field copper loss out of the losses.",
        "The efficiency comes out too high.",
        [{"input-power": (_P_in, s("source_voltage") * _I_a)},
         {"total-loss": (s("total_loss"), _loss_sum("field_copper_loss", "added_field_loss"))},
         {"total-loss": (s("total_loss"), _loss_sum("field_copper_loss", "added_field_loss")),
          "input-power": (_P_in, s("source_voltage") * _I_a)},
         {"copper-loss": (s("copper_loss"), s("armature_copper_loss") + s("added_armature_loss"))}],
    ),
    _slip(
        "copper-loss-of-the-line-current", "armature copper loss worked out with the line current",
        "armature-copper-loss, P_a = I_a^2 R_a", "The square of the line current was used.", "The loss comes out too large.",
        [{"armature-copper-loss": (s("armature_copper_loss"), _I**2 * _R_a)}],
    ),
    _slip(
        "rotational-loss-forgotten", "rotational loss forgotten", "torque-balance, T = T_L + T_0",
        "Friction, windage and iron loss were left out.", "Shaft torque and output come out too large.",
        [{"torque-balance": (_T, s("load_torque")), "power-balance": (_P_e, _P_out + s("stray_loss")),
          "rotational-loss": (s("rotational_loss"), s("loss_torque") * 0)},
         {"total-loss": (s("total_loss"), _loss_sum("rotational_loss"))}],
    ),
    _slip(
        "brush-loss-forgotten", "brush loss left out of the losses", "brush-loss, P_b = U_b I_a",
        "The loss in the brush contacts was not counted.", "The efficiency comes out a little too high.",
        [{"brush-loss": (s("brush_loss"), _U_b * 0)}, {"total-loss": (s("total_loss"), _loss_sum("brush_loss"))},
         {"total-loss": (s("total_loss"), _loss_sum("brush_loss")),
          "power-balance": (s("total_loss"), _loss_sum("brush_loss"))}],
    ),
    _slip(
        "brush-drop-sign-kept", "sign of the brush drop kept though the current reversed",
        "armature-circuit-signed, the brush drop opposes the current",
        "The brush drop was taken off the supply voltage also in generator action.", "The EMF is off by twice the drop.",
        [{"armature-circuit-signed": (_U, _E + _I_a * _R + _U_b)}],
    ),
    _slip(
        "armature-reaction-ignored", "armature reaction ignored", "effective-field-current, I_fe = I_f - I_fr",
        "The demagnetising effect of the armature current was left out.", "The flux comes out too large, the speed too low.",
        [{"effective-field-current": (_I_fe, _I_f), "flux-ratio": (_k, s("flux_ratio") * s("reference_k_phi")),
          "compound-field-current": (_I_fe, _I_f)}],
    ),
    _slip(
        "armature-reaction-strengthens", "armature reaction taken to strengthen the field",
        "effective-field-current, I_fe = I_f - I_fr", "The sign of the armature reaction (or series turns) was reversed.",
        "The speed moves the wrong way with the load.",
        [{"effective-field-current": (_I_fe, _I_f + _I_fr),
          "flux-ratio": (_k, s("flux_ratio") * s("reference_k_phi") * (1 + s("reaction_flux_loss"))),
          "compound-field-current": (_I_fe, _I_f - _I_a * s("series_turns") / s("field_turns") + _I_fr)}],
    ),
    _slip(
        "pole-pairs-for-poles", "pole pairs taken for poles, or poles for pole pairs",
        "winding-constant, kPhi = P Z Phi/(2 pi A)", "The number of poles was halved or doubled.",
        "EMF and torque are off by a factor of 2.",
        [{"winding-constant": (_k, _P * _Z * _Phi / (4 * sp.pi * _A))},
         {"pole-pairs": (_P, s("pole_pairs"))},
         {"winding-constant": (_k, _P * _Z * _Phi / (sp.pi * _A))}], "reading",
    ),
    _slip(
        "lap-for-wave", "lap taken for wave winding, or wave for lap", "lap-winding, A = P; wave-winding, A = 2",
        "The number of parallel paths of the other winding was used.", "EMF and torque are off by half the number of poles.",
        [{"lap-winding": (_A, 2 + 0 * _P), "wave-winding": (_A, _P)}], "reading",
    ),
    _slip(
        "turns-for-conductors", "turns taken for conductors", "conductors-of-turns, Z = 2 N",
        "A turn was counted as one conductor.", "EMF and torque are off by a factor of 2.",
        [{"conductors-of-turns": (_Z, s("armature_turns"))}], "reading",
    ),
    _slip(
        "diameter-for-radius", "diameter of the pulley taken for its radius", "brake-torque, T = F D/2",
        "The pull was multiplied by the whole diameter.", "The torque is twice too large.",
        [{"brake-torque": (s("load_torque"), s("brake_force") * s("pulley_diameter"))}], "reading",
    ),
    _slip(
        "starter-exponent-off-by-one", "ratio of the starter off by one section",
        "starter-grading, K^N from the upper limit and K^(N+1) from the lower",
        "The exponent of the other limit was used, or studs were counted as sections.", "Every section comes out a little off.",
        [{"starter-grading-upper": (_K ** (_N + 1) * _I_1 * _R_a, _net), "starter-grading-lower": (_K**_N * _I_2 * _R_a, _net)},
         {"starter-grading-upper": (_K ** (_N - 1) * _I_1 * _R_a, _net)},
         {"starter-sections": (_I_1 * _R_a * (_I_1 / _I_2) ** (s("exact_sections") - 1), _net)},
         {"studs-of-sections": (s("studs"), _N)}],
    ),
    _slip(
        "cold-resistance-for-hot", "cold resistance used for the hot winding",
        "winding temperature, R2/R1 = (k + t2)/(k + t1)", "The resistance measured cold was used at running temperature.",
        "The field current, and so the flux, come out too large; the speed too low.",
        [{"field-temperature": (s("field_resistance"), s("cold_field_resistance")),
          "armature-temperature": (s("armature_resistance"), s("cold_armature_resistance"))}],
    ),
    _slip(
        "temperature-ratio-without-constant", "resistances taken in the ratio of the temperatures",
        "winding temperature, R2/R1 = (k + t2)/(k + t1)", "The constant k was left out of both brackets.",
        "The hot resistance comes out far too large.",
        [{"field-temperature": (s("field_resistance") * s("reference_temperature"),
                                s("cold_field_resistance") * s("winding_temperature")),
          "armature-temperature": (s("armature_resistance") * s("reference_temperature"),
                                   s("cold_armature_resistance") * s("winding_temperature"))}],
    ),
)  # fmt: skip
