"""The vocabulary: every quantity the project speaks of, with its symbol, unit, meaning and sign.

Keyword arguments, data-frame columns, machine files, exercise files, reference tables, command-line options and reports
all use these names and no others. Symbols follow the practice of ISO 80000 and IEC 60027 (from memory: the texts were
not seen).
"""

from __future__ import annotations

from dataclasses import dataclass

from shuntref.quantities.near_names import did_you_mean

__all__ = ["REGISTRY", "Quantity", "quantity"]


@dataclass(frozen=True, slots=True)
class Quantity:
    """One entry of the vocabulary.

    Parameters
    ----------
    name, symbol, latex : str
        How it is called, written in text, and written in formulas.
    unit : str
        The unit in which plain numbers of this quantity are understood everywhere in the package.
    meaning : str
        In words.
    example : str
        A text that the unit parser accepts for it.
    sign : str
        Which signs it takes and what they mean.
    angle : tuple of int
        The powers of the plane angle that a unit of it may carry (a speed must say rad or r, so that 1/s is never guessed to
        be either).

    Examples
    --------
    >>> Quantity("speed", "omega", "w", "rad/s", "angular velocity of the shaft", "157 rad/s", angle=(1,)).unit
    'rad/s'
    """

    name: str
    symbol: str
    latex: str
    unit: str
    meaning: str
    example: str
    sign: str = "not negative"
    angle: tuple[int, ...] = (0,)


def _rows() -> list[Quantity]:
    # fmt: off
    q = Quantity
    either = "positive when motoring, negative when the machine generates"
    return [
        # --- circuit
        q("supply_voltage", "U", "U", "V", "voltage across the two parallel circuits", "120 V"),
        q("source_voltage", "U_s", "U_s", "V", "voltage of the source, ahead of the line resistance", "120 V"),
        q("field_voltage", "U_f", "U_f", "V", "voltage on the field circuit; the supply voltage in a shunt connection",
          "120 V"),
        q("field_resistance", "R_f", "R_f", "ohm", "shunt winding at its stated temperature", "160 ohm"),
        q("added_field_resistance", "R_fx", "R_{fx}", "ohm", "field rheostat, in series with the winding", "20 ohm"),
        q("armature_resistance", "R_a", "R_a", "ohm", "armature, commutating and compensating windings", "0.8 ohm"),
        q("added_armature_resistance", "R_ax", "R_{ax}", "ohm", "armature rheostat or starter section", "10 ohm"),
        q("armature_circuit_resistance", "R", "R", "ohm", "armature resistance plus added armature resistance", "0.8 ohm"),
        q("field_circuit_resistance", "R_ft", "R_{ft}", "ohm", "field resistance plus added field resistance", "180 ohm"),
        q("line_resistance", "R_l", "R_l", "ohm", "resistance ahead of both circuits; 0 unless given", "0.1 ohm"),
        q("brush_drop", "U_b", "U_b", "V", "total of both polarities; opposes the current", "2 V"),
        q("brush_drop_per_brush", "U_b1", "U_{b1}", "V", "brush drop of one polarity; the total is twice it", "1 V"),
        q("armature_drop", "U_R", "U_R", "V", "armature current times the resistance of the armature circuit", "6 V", either),
        q("field_current", "I_f", "I_f", "A", "current in the shunt field", "0.75 A"),
        q("armature_current", "I_a", "I_a", "A", "current in the armature circuit", "8.5 A", either),
        q("line_current", "I", "I", "A", "armature current plus field current", "9.3 A", either),
        q("armature_voltage", "U_a", "U_a", "V", "voltage across the armature and its brushes, added resistance left out",
          "118 V", "negative when the armature is fed the other way round"),
        q("back_emf", "E", "E", "V", "voltage induced in the armature", "113 V"),
        q("reference_supply_voltage", "U_0", "U_0", "V", "supply voltage of a reference state", "120 V"),
        q("reference_armature_current", "I_a0", "I_{a0}", "A", "armature current of a reference state", "8.5 A", either),
        q("reference_line_current", "I_0", "I_0", "A", "line current of a reference state", "9.3 A", either),
        # --- flux
        q("k_phi", "kPhi", "k\\Phi", "V s/rad", "machine constant times flux per pole; also N m/A", "0.75 V s/rad",
          angle=(-1, 0)),
        q("flux_constant", "c", "c", "V s/(rad A)", "k_phi per ampere of field current, proportional flux",
          "1.0 V s/(rad A)", angle=(-1, 0)),
        q("remanent_k_phi", "k_r", "k_r", "V s/rad", "k_phi left at zero field current", "0.03 V s/rad", angle=(-1, 0)),
        q("k_phi_slope", "kPhi'", "k\\Phi'", "V s/(rad A)", "slope of the flux curve at the operating point",
          "0.6 V s/(rad A)", angle=(-1, 0)),
        q("undisturbed_k_phi", "kPhi_u", "k\\Phi_u", "V s/rad", "k_phi without the loss that the armature current causes",
          "0.75 V s/rad", angle=(-1, 0)),
        q("flux_loss_per_ampere", "p_f", "p_f", "1/A", "share of the flux lost per ampere of armature current", "0.001 1/A"),
        q("peak_k_phi", "kPhi_p", "k\\Phi_p", "V s/rad", "k_phi at which the speed peaks for a stated torque",
          "0.08 V s/rad", angle=(-1, 0)),
        q("table_field_current", "I_ft", "I_{f,t}", "A", "field current of a point of a magnetisation table", "0.6 A"),
        q("table_back_emf", "E_t", "E_t", "V", "open-circuit EMF of a point of a magnetisation table", "98 V"),
        q("table_speed", "omega_t", "\\omega_t", "rad/s", "speed at which a magnetisation table was measured", "157 rad/s",
          angle=(1,)),
        q("froehlich_a", "a", "a", "V s/rad", "Froehlich curve: k_phi gained at infinite field current", "1.6 V s/rad",
          angle=(-1, 0)),
        q("froehlich_b", "b", "b", "A", "Froehlich curve: field current at half of that gain", "0.9 A"),
        q("effective_field_current", "I_fe", "I_{fe}", "A", "field current less the armature reaction's equivalent",
          "0.7 A"),
        q("reaction_field_current", "I_fr", "I_{fr}", "A", "armature reaction as an equivalent loss of field current",
          "0.05 A", "positive when it weakens the field"),
        q("reaction_coefficient", "d", "d", "A/A", "equivalent field current per ampere of armature current", "0.004 A/A"),
        q("demagnetising_mmf", "F_d", "F_d", "A", "demagnetising ampere-turns per pole", "840 A",
          "positive when it weakens the field"),
        q("field_turns", "N_f", "N_f", "1", "shunt field turns per pole", "1200"),
        q("series_turns", "N_s", "N_s", "1", "series field turns per pole", "3",
          "positive when cumulative, negative when differential"),
        q("flux_per_pole", "Phi", "\\Phi", "Wb", "useful flux per pole", "25 mWb"),
        q("flux_ratio", "k", "k", "1", "flux over the flux of a reference state", "0.9"),
        q("reference_k_phi", "kPhi_0", "k\\Phi_0", "V s/rad", "k_phi before a stated flux ratio or flux loss is taken off",
          "0.75 V s/rad", angle=(-1, 0)),
        q("reaction_flux_loss", "r", "r", "1", "share of the flux that armature reaction takes away", "3 %"),
        q("curve_emf", "E_c", "E_c", "V", "EMF that the magnetisation curve gives, at the curve's own speed", "241 V"),
        q("curve_speed", "omega_c", "\\omega_c", "rad/s", "speed at which the magnetisation curve was measured", "188 rad/s",
          angle=(1,)),
        q("poles", "P", "2p", "1", "number of poles (twice the pole pairs)", "4"),
        q("parallel_paths", "A", "2a", "1", "parallel paths of the armature winding", "2"),
        q("conductors", "Z", "Z", "1", "armature conductors in all", "540"),
        q("armature_turns", "N_t", "N_t", "1", "armature turns in all; two conductors each", "270"),
        q("pole_pairs", "p", "p", "1", "pairs of poles", "2"),
        q("coils", "N_k", "N_k", "1", "armature coils", "81"),
        q("turns_per_coil", "N_1", "N_1", "1", "turns of one armature coil", "1"),
        q("slots", "N_q", "N_q", "1", "armature slots", "81"),
        q("conductors_per_slot", "z", "z", "1", "armature conductors in one slot", "6"),
        # --- motion and torque
        q("speed", "omega", "\\omega", "rad/s", "angular velocity of the shaft", "157 rad/s", "positive forward", (1,)),
        q("speed_rpm", "n", "n", "r/min", "rotational frequency of the shaft", "1500 r/min", "positive forward", (1,)),
        q("reference_speed", "omega_r", "\\omega_r", "rad/s", "speed of a reference state", "157 rad/s", "positive forward",
          (1,)),
        q("ideal_no_load_speed", "omega_0", "\\omega_0", "rad/s", "speed at zero torque", "160 rad/s", angle=(1,)),
        q("peak_speed", "omega_p", "\\omega_p", "rad/s", "greatest speed that weakening the field gives at a stated torque",
          "700 rad/s", angle=(1,)),
        q("speed_regulation", "s_r", "s_r", "1", "(no-load speed - loaded speed) / loaded speed", "5 %", "either"),
        q("electromagnetic_torque", "T_e", "T_e", "N m", "k_phi times armature current", "6.4 N m", either),
        q("load_torque", "T_L", "T_L", "N m", "torque taken at the shaft", "6 N m", "positive opposes forward motion"),
        q("loss_torque", "T_0", "T_0", "N m", "friction, windage and iron loss as a torque", "0.4 N m"),
        q("stall_torque", "T_s", "T_s", "N m", "torque at standstill", "80 N m"),
        q("peak_torque", "T_p", "T_p", "N m", "greatest torque that armature reaction allows", "50 N m"),
        q("constant_torque", "T_c", "T_c", "N m", "part of a torque that does not change with speed", "2 N m", "either"),
        q("constant_power", "P_k", "P_k", "W", "part of a load that takes the same power at any speed", "200 W"),
        q("linear_torque_coefficient", "T_1", "T_1", "N m s/rad", "part of a torque in proportion to speed, per rad/s",
          "0.02 N m s/rad", "either", (-1, 0)),
        q("square_torque_coefficient", "T_2", "T_2", "N m s^2/rad^2", "part of a torque in proportion to speed squared",
          "0.0002 N m s^2/rad^2", "either", (-2, 0)),
        q("voltage_ratio", "u", "u", "1", "supply voltage over the supply voltage of a reference state", "0.5"),
        q("torque_ratio", "t", "t", "1", "torque over the torque of a reference state", "1.5", "either"),
        q("brake_force", "F", "F", "N", "net pull on the rim of a brake pulley", "57 lbf"),
        q("pulley_diameter", "D", "D", "m", "diameter of a brake pulley", "6 in"),
        # --- powers and losses
        q("input_power", "P_in", "P_\\mathrm{in}", "W", "power drawn from the supply or supplies, field included", "1.1 kW",
          either),
        q("output_power", "P_out", "P_\\mathrm{out}", "W", "power at the shaft", "7.5 hp", either),
        q("armature_input_power", "P_U", "P_U", "W", "power taken by the armature circuit alone", "1 kW", either),
        q("electromagnetic_power", "P_e", "P_e", "W", "back EMF times armature current; the developed power", "950 W", either),
        q("efficiency", "eta", "\\eta", "1", "output over input when motoring, input over output reversed when generating",
          "85 %"),
        q("field_copper_loss", "P_f", "P_f", "W", "loss in the shunt winding", "90 W"),
        q("added_field_loss", "P_fx", "P_{fx}", "W", "loss in the added field resistance", "11 W"),
        q("armature_copper_loss", "P_a", "P_a", "W", "loss in the armature resistance", "58 W"),
        q("added_armature_loss", "P_ax", "P_{ax}", "W", "loss in the added armature resistance", "700 W"),
        q("copper_loss", "P_cu", "P_\\mathrm{cu}", "W", "loss in both circuits together, rheostats included", "690 W"),
        q("brush_loss", "P_b", "P_b", "W", "brush drop times armature current", "17 W"),
        q("line_loss", "P_l", "P_l", "W", "loss in the line resistance", "9 W"),
        q("rotational_loss", "P_0", "P_0", "W", "loss torque times speed", "60 W"),
        q("stray_loss", "P_s", "P_s", "W", "additional load loss", "10 W"),
        q("stray_share", "s", "s", "1", "stray loss as a share of the input or of the output; the text says which", "1 %"),
        q("constant_loss", "P_c", "P_c", "W", "losses that a text takes as constant; the text says which", "500 W"),
        q("total_loss", "P_t", "P_t", "W", "all losses together", "900 W"),
        # --- starting
        q("starting_resistance", "R_st", "R_{st}", "ohm", "resistance added in the armature circuit to start", "3.8 ohm"),
        q("starting_current", "I_st", "I_{st}", "A", "current at standstill", "40 A"),
        q("upper_current", "I_1", "I_1", "A", "peak current of a starter step", "40 A"),
        q("lower_current", "I_2", "I_2", "A", "current at which a starter step is cut out", "25 A"),
        q("current_ratio", "K", "K", "1", "upper current over lower current of a starter step", "1.5"),
        q("sections", "N", "N", "1", "resistor sections of a starter (one less than its studs)", "6"),
        q("studs", "N_c", "N_c", "1", "contact studs of a starter", "7"),
        q("exact_sections", "N_x", "N_x", "1", "number of sections before it is made a whole one", "2.84"),
        q("section_resistance", "R_sec", "R_\\mathrm{sec}", "ohm", "one section of a starter, counted from the first cut out",
          "1.8 ohm"),
        q("step_circuit_resistance", "R_step", "R_\\mathrm{step}", "ohm",
          "armature circuit on one stud of a starter, armature included", "3.6 ohm"),
        q("step_number", "j", "j", "1", "number of a step of a starter, counted from the first", "1"),
        q("next_step_circuit_resistance", "R_next", "R_\\mathrm{next}", "ohm",
          "armature circuit on the following stud of a starter, armature included", "2.4 ohm"),
        q("step_back_emf", "E_step", "E_\\mathrm{step}", "V", "back EMF at which a starter leaves one stud for the next",
          "125 V"),
        # --- temperature
        q("winding_temperature", "theta", "\\theta", "degC", "temperature of a winding", "75 degC", "either"),
        q("reference_temperature", "theta_0", "\\theta_0", "degC", "temperature at which a resistance was measured",
          "20 degC", "either"),
        q("winding_resistance", "R_w", "R_w", "ohm", "resistance of a winding at its temperature", "190 ohm"),
        q("reference_resistance", "R_0", "R_0", "ohm", "resistance of a winding at the reference temperature", "160 ohm"),
        q("cold_field_resistance", "R_fc", "R_{fc}", "ohm", "shunt winding at the reference temperature", "140 ohm"),
        q("cold_armature_resistance", "R_ac", "R_{ac}", "ohm", "armature circuit at the reference temperature", "0.7 ohm"),
        q("temperature_constant", "k_T", "k_T", "degC", "k in R2/R1 = (k + t2)/(k + t1)", "235 degC"),
    ]
    # fmt: on


#: name -> entry, in the order in which a reader would look
REGISTRY: dict[str, Quantity] = {row.name: row for row in _rows()}


def quantity(name: str) -> Quantity:
    """Return the registry entry called ``name``.

    Parameters
    ----------
    name : str
        Of the quantity.

    Returns
    -------
    Quantity

    Raises
    ------
    KeyError
        When there is no such quantity; the message lists the nearest names.

    Examples
    --------
    >>> quantity("supply_voltage").symbol, quantity("supply_voltage").unit
    ('U', 'V')
    """
    try:
        return REGISTRY[name]
    except KeyError:
        raise KeyError(f"unknown quantity {str(name)[:60]!r}{did_you_mean(name, REGISTRY)}") from None
