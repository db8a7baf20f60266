"""What each slip makes of a small exercise, against the mistaken sum done here by hand."""

from __future__ import annotations

import re
from math import log2, pi, sqrt

import pytest

from shuntref.exercises.slip_answers import slipped_answers
from shuntref.exercises.slips import catalogue
from shuntref.exercises.statement_file import exercise_from_text

HEAD = 'title = "Test"\nstatement = "A test."\n'


def spare(*names: str) -> str:
    """The line that lists what is given and not needed."""
    return f"surplus = {list(names)!r}\n".replace("'", '"')


#: one state: 240 V, 42 A in the line of which 2 A go to the field, 0.4 ohm; so 40 A, E = 224 V
MOTOR = """
[state.running]
supply_voltage = "240 V"
field_resistance = "120 ohm"
armature_resistance = "0.4 ohm"
line_current = "42 A"
"""
PLAIN = """
[state.running]
supply_voltage = "240 V"
armature_resistance = "0.4 ohm"
"""
GENERATOR = """
[state.running]
action = "generator"
supply_voltage = "240 V"
armature_resistance = "0.25 ohm"
armature_current = "-100 A"
"""
#: two states of constant flux unless told: 40 A and 1000 r/min before
TWO = """
[shared]
supply_voltage = "240 V"
armature_resistance = "0.4 ohm"
[flux]
law = "constant"
[state.before]
armature_current = "40 A"
speed = "1000 r/min"
"""
AFTER_60 = '[state.after]\narmature_current = "60 A"\n'
TURNS = pi / 30
SAME_CURRENT = '[[link]]\nsame = "armature_current"\n'
SAME_TORQUE = '[[link]]\nsame = "electromagnetic_torque"\n'
WINDING = """
winding = "wave"
[state.running]
poles = 4
{conductors}
flux_per_pole = "20 mWb"
speed = "1000 r/min"
"""
CURRENTS = MOTOR.replace('armature_resistance = "0.4 ohm"\n', "")
SPEED = MOTOR + 'speed = "1000 r/min"\n'
AT_REST = WINDING.format(conductors="conductors = 500").replace('speed = "1000 r/min"\n', "")
STRAY = MOTOR + '[losses]\nrotational = "none"\nstray_share = "1 %"\nstray_of = "output_power"\n'
TORQUES = '[state.running]\nload_torque = "80 N m"\nloss_torque = "5 N m"\n'
SPARE = spare("running.armature_resistance", "running.field_resistance")
OUTPUT = SPARE + MOTOR + 'output_power = "8 kW"\n'
W = 1000 * pi / 30
FAN_STATE = '[state.after]\nspeed = "500 r/min"\nsupply_voltage = "unknown"\n'
FAN = TWO + FAN_STATE + '[[link]]\nload = "{law}"\ntorque = "electromagnetic_torque"\n'


def asked(of: str) -> str:
    """The part of the file that asks a quantity, or a quotient as 'this over that'."""
    of, _, over = of.partition(" over ")
    return f'[answer.it]\nof = "{of}"\n' + (f'over = "{over}"\n' if over else "")


E_1, E_2 = 240 - 0.4 * 40, 240 - 0.4 * 60
T = E_1 * 40 / W
#: same torque at 0.9 of the flux: 40/0.9 A
I_WEAK = 40 / 0.9
E_WEAK = 240 - 0.4 * I_WEAK
WEAK = TWO + '[state.after]\nflux_ratio = "0.9"\n'
#: proportional flux, field 120 ohm before and 120 + 30 ohm after: 0.8 of the flux
RHEOSTAT = TWO.replace('"constant"', '"proportional"').replace("[flux]", 'field_resistance = "120 ohm"\n[flux]') + (
    '[state.after]\nadded_field_resistance = "30 ohm"\n'
)
HOT = 100 * (234.5 + 75) / (234.5 + 20)
WARM = """
[state.running]
supply_voltage = "240 V"
temperature_constant = "234.5 degC"
reference_temperature = "20 degC"
winding_temperature = "75 degC"
cold_field_resistance = "100 ohm"
"""
REACTION = TWO.replace('"constant"', '"proportional"').replace("[flux]", 'field_current = "2 A"\n[flux]') + (
    '[state.after]\narmature_current = "60 A"\nreaction_field_current = "0.1 A"\n'
)
STARTER = """
[shared]
supply_voltage = "240 V"
armature_resistance = "0.4 ohm"
[starter]
method = "adjust-ratio"
upper_current = "60 A"
sections = 3
"""
RATIO_3, RATIO_4, RATIO_2 = 10 ** (1 / 3), 10 ** (1 / 4), 10 ** (1 / 2)
LOSSES = MOTOR + 'brush_drop = "2 V"\nrotational_loss = "500 W"\n'
#: input 240 x 42; field 480, armature 640, brushes 80, friction 500
INPUT, FIELD, COPPER, BRUSHES, FRICTION = 240 * 42, 240 * 2, 0.4 * 40**2, 2 * 40, 500

BRUSH = 'brush_drop = "2 V"\n'
KNOWN_FLUX = spare("running.armature_resistance") + MOTOR + 'k_phi = "1.25 V s/rad"\n'
#: the same machine at 40 A as a motor, E = 230 V, and at 100 A as a generator, E = 265 V
BOTH = """
[shared]
supply_voltage = "240 V"
field_resistance = "120 ohm"
armature_resistance = "0.25 ohm"
[state.motoring]
line_current = "42 A"
[state.generating]
action = "generator"
line_current = "-98 A"
"""
LOST = TWO + AFTER_60 + 'reaction_flux_loss = "5 %"\n'
#: 3 series turns on 600 of the field: 0.2 A more field at 40 A, 0.3 A at 60 A, of which the reaction takes 0.2 A
COMPOUND = REACTION.replace(
    'field_current = "2 A"', 'field_current = "2 A"\nseries_turns = 3\nfield_turns = 600'
).replace("0.1 A", "0.2 A")
LOWER = STARTER.replace('upper_current = "60 A"', 'lower_current = "40 A"')
LIMITS = STARTER.replace("adjust-ratio", "keep-limits").replace("sections = 3", 'lower_current = "30 A"\nwhole = "up"')
LINE_LIMIT = STARTER.replace('"60 A"', '"62 A"\nlimits_in = "line"').replace(
    "[shared]", '[shared]\nfield_resistance = "120 ohm"'
)
ARMATURE_LIMIT = spare("field_resistance") + LINE_LIMIT.replace('"line"', '"armature"')
WARM_ARMATURE = WARM.replace("cold_field_resistance", 'armature_current = "40 A"\ncold_armature_resistance').replace(
    "100 ohm", "0.4 ohm"
)
#: 200 V at 2 A, 150 V at 1 A, 10 V without field, all at 1000 r/min
CURVE = """
[shared]
supply_voltage = "240 V"
armature_resistance = "0.4 ohm"
armature_current = "40 A"
[flux]
law = "table"
at_speed = "1000 r/min"
field_current = "0, 1, 2 A"
back_emf = "10, 150, 200 V"
join = "linear"
[state.before]
field_resistance = "120 ohm"
[state.after]
field_resistance = "120 ohm"
added_field_resistance = "{added} ohm"
"""
WEAKER = spare("before.field_resistance") + CURVE.format(added=120)
WEAKEST = spare("before.field_resistance") + CURVE.format(added=360)
FASTER = re.sub("arm.*\n", "", CURVE.split("[state.before]")[0]) + (
    '[state.running]\nfield_resistance = "120 ohm"\nspeed = "1200 r/min"\n'
)
#: 1.1 V s/rad at 2 A and 0.1 + 2/3 V s/rad at 1 A
BENT = """
[shared]
supply_voltage = "240 V"
armature_resistance = "0.4 ohm"
armature_current = "40 A"
froehlich_a = "2 V s/rad"
froehlich_b = "2 A"
remanent_k_phi = "0.1 V s/rad"
[flux]
law = "froehlich"
[state.before]
field_current = "2 A"
[state.after]
field_current = "1 A"
"""
LINE_KNOWN = RHEOSTAT.replace('armature_current = "40 A"\nspeed', 'line_current = "42 A"\nspeed')
RATIO = TWO + '[state.after]\n[[link]]\nof = "after.{of}"\nto = "before.{of}"\nratio = "1.5"\n'
PULLED = '[state.running]\nk_phi = "1.25 V s/rad"\nload_torque = "50 N m"\nloss_torque = "5 N m"\n'
SLOWER = spare("before.speed_rpm") + RATIO.format(of="armature_current")
#: 4 A without load, of which 2 A to the field: 480 W to the armature, 1.6 W lost in it
LIGHT = """
[shared]
supply_voltage = "240 V"
field_resistance = "120 ohm"
armature_resistance = "0.4 ohm"
[flux]
law = "constant"
[losses]
rotational = "{kept}"
[state.light]
line_current = "4 A"
output_power = "0 W"
[state.loaded]
line_current = "42 A"
"""
WATTS_KEPT = spare("loaded.line_current") + LIGHT.format(kept="same-watts")
LIGHT_LOSS, LIGHT_EMF = 240 * 2 - 0.4 * 2**2, 240 - 0.4 * 2
CONSTANT = MOTOR + 'constant_loss = "1 kW"\n[losses]\nconstant_loss_is = [{parts}]\n'

#: slip, exercise, quantity asked, right answer, what the slip gives (each of them)
ROWS: list[tuple[str, str, str, float, tuple[float, ...]]] = [
    ("line-current-for-armature-current", MOTOR, "back_emf", E_1, (240 - 0.4 * 42,)),
    ("line-current-for-armature-current", MOTOR, "electromagnetic_power", E_1 * 40, ((240 - 0.4 * 42) * 42,)),
    ("field-current-on-the-wrong-side", MOTOR, "back_emf", E_1, (240 - 0.4 * 44,)),
    ("generator-sign-for-motor", MOTOR, "back_emf", E_1, (240 + 0.4 * 40,)),
    ("armature-drop-ignored", MOTOR, "back_emf", E_1, (240,)),
    ("armature-drop-ignored", TWO + AFTER_60, "after.speed", 1000 * E_2 / E_1, (1000, 1000 * 240 / E_1, 1000 * E_2 / 240)),
    ("back-emf-ignored", PLAIN + 'back_emf = "224 V"\n', "armature_current", 40, (240 / 0.4,)),
    ("brush-drop-added", MOTOR + 'brush_drop = "2 V"\n', "back_emf", E_1 - 2, (E_1 + 2,)),
    ("brush-drop-forgotten", MOTOR + 'brush_drop = "2 V"\n', "back_emf", E_1 - 2, (E_1,)),
    ("brush-drop-doubled", MOTOR + 'brush_drop = "2 V"\n', "back_emf", E_1 - 2, (E_1 - 4,)),
    ("brush-drop-halved", MOTOR + 'brush_drop = "2 V"\n', "back_emf", E_1 - 2, (E_1 - 1,)),
    ("brush-drop-halved", MOTOR + 'brush_drop_per_brush = "1 V"\n', "back_emf", E_1 - 2, (E_1 - 1,)),
    ("brush-drop-sign-kept", GENERATOR + 'brush_drop = "2 V"\n', "back_emf", 240 + 25 + 2, (240 + 25 - 2,)),
    ("generator-sign-for-motor", GENERATOR, "back_emf", 240 + 25, (240 - 25,)),
    ("line-resistance-forgotten", MOTOR.replace("supply_voltage", "source_voltage") + 'line_resistance = "0.5 ohm"\n',
     "back_emf", 219 - 0.4 * (42 - 219 / 120), (240 - 0.4 * 40,)),
    ("line-current-answered-for-armature-current", CURRENTS, "armature_current", 40, (42,)),
    ("copper-loss-of-the-line-current", MOTOR, "armature_copper_loss", 0.4 * 40**2, (0.4 * 42**2,)),
    ("armature-input-for-developed-power", MOTOR, "electromagnetic_power", E_1 * 40, (240 * 40, 240 * 42)),
    ("r-min-for-rad-per-s", SPEED, "electromagnetic_torque", T, (E_1 * 40 / 1000,)),
    ("two-pi-forgotten", SPEED, "electromagnetic_torque", T, (E_1 * 40 / (1000 / 60),)),
    ("sixty-forgotten", SPEED, "electromagnetic_torque", T, (E_1 * 40 / (2 * pi * 1000),)),
    ("pi-for-two-pi", SPEED, "electromagnetic_torque", T, (E_1 * 40 / (pi * 1000 / 60),)),
    ("efficiency-from-developed-power", OUTPUT, "efficiency", 8000 / INPUT, (E_1 * 40 / INPUT,)),
    ("field-copper-left-out", SPARE + MOTOR + 'output_power = "8 kW"\n', "efficiency", 8000 / INPUT, (8000 / (240 * 40),)),
    ("field-copper-left-out", LOSSES, "total_loss", FIELD + COPPER + BRUSHES + FRICTION, (COPPER + BRUSHES + FRICTION,)),
    ("rotational-loss-forgotten", LOSSES, "total_loss", FIELD + COPPER + BRUSHES + FRICTION, (FIELD + COPPER + BRUSHES,)),
    ("efficiency-left-out", '[state.running]\nsupply_voltage = "240 V"\noutput_power = "8 kW"\nefficiency = "80 %"\n',
     "line_current", 8000 / 0.8 / 240, (8000 / 240,)),
    ("efficiency-upside-down", '[state.running]\nsupply_voltage = "240 V"\noutput_power = "8 kW"\nefficiency = "80 %"\n',
     "line_current", 8000 / 0.8 / 240, (0.8 * 8000 / 240,)),
    ("rotational-loss-forgotten", TORQUES,
     "electromagnetic_torque", 85, (80,)),
    ("shaft-for-developed", TORQUES, "electromagnetic_torque", 85, (80,)),
    ("emf-ratio-upside-down", TWO + AFTER_60, "after.speed", 1000 * E_2 / E_1, (1000 * E_1 / E_2,)),
    ("supply-ratio-for-emf-ratio", TWO + AFTER_60.replace("\narm", '\nsupply_voltage = "200 V"\narm'), "after.speed",
     1000 * 176 / E_1, (1000 * 200 / 240,)),
    ("speed-proportional-to-field", WEAK + 'armature_current = "60 A"\n', "after.speed", 1000 * E_2 / E_1 / 0.9,
     (1000 * E_2 / E_1 * 0.9, 1000 * 0.9)),
    ("flux-kept-though-field-changed", WEAK + 'armature_current = "60 A"\n', "after.speed", 1000 * E_2 / E_1 / 0.9,
     (1000 * E_2 / E_1,)),
    ("flux-left-for-flux-lost", WEAK + 'armature_current = "60 A"\n', "after.speed", 1000 * E_2 / E_1 / 0.9,
     (1000 * E_2 / E_1 / 0.1,)),
    ("armature-current-kept-though-flux-changed", WEAK + SAME_TORQUE, "after.speed", 1000 * E_WEAK / E_1 / 0.9, (1000 / 0.9,)),
    ("flux-not-squared-in-torque-term", '[state.running]\nsupply_voltage = "240 V"\narmature_resistance = "0.4 ohm"\n'
     'k_phi = "1.25 V s/rad"\nelectromagnetic_torque = "50 N m"\n', "speed", (240 - 0.4 * 40) / 1.25 * 30 / pi,
     ((240 - 0.4 * 50) / 1.25 * 30 / pi,)),
    ("own-resistance-not-taken-off", MOTOR + 'added_armature_resistance = "unknown"\nback_emf = "200 V"\n',
     "added_armature_resistance", 0.6, (1.0,)),
    ("total-resistance-for-added", MOTOR + 'added_armature_resistance = "unknown"\nback_emf = "200 V"\n',
     "added_armature_resistance", 0.6, (1.0,)),
    ("winding-resistance-forgotten", MOTOR + 'added_armature_resistance = "0.6 ohm"\n', "back_emf", 200, (240 - 0.6 * 40,)),
    ("added-resistance-forgotten", MOTOR + 'added_armature_resistance = "0.6 ohm"\n', "back_emf", 200, (224,)),
    ("added-resistor-in-the-wrong-circuit", MOTOR + 'added_armature_resistance = "0.6 ohm"\n', "back_emf", 200,
     (240 - 0.4 * (42 - 240 / 120.6),)),
    ("added-resistor-ahead-of-both", MOTOR + 'added_armature_resistance = "0.6 ohm"\n', "back_emf", 200,
     (240 - 0.6 * 42 - 0.4 * (42 - (240 - 0.6 * 42) / 120),)),
    ("added-resistance-forgotten", RHEOSTAT + SAME_TORQUE, "after.speed", 1000 * (240 - 0.4 * 50) / E_1 / 0.8, (1000,)),
    ("armature-current-kept-though-flux-changed", RHEOSTAT + SAME_TORQUE, "after.speed", 1000 * 220 / E_1 / 0.8, (1000 / 0.8,)),
    ("flux-kept-though-field-changed", RHEOSTAT + SAME_TORQUE, "after.speed", 1000 * 220 / E_1 / 0.8, (1000,)),
    ("lap-for-wave", WINDING.format(conductors="conductors = 500"), "back_emf", 4 * 0.02 * 500 * 1000 / 60 / 2,
     (4 * 0.02 * 500 * 1000 / 60 / 4,)),
    ("pole-pairs-for-poles", WINDING.format(conductors="conductors = 500"), "back_emf", 1000 / 3, (500 / 3, 2000 / 3)),
    ("pi-for-two-pi", WINDING.format(conductors="conductors = 500"), "back_emf", 1000 / 3, (500 / 3, 2000 / 3)),
    ("two-pi-forgotten", AT_REST, "k_phi", 20 / pi * 0.5, (20.0,)),
    ("turns-for-conductors", WINDING.format(conductors="armature_turns = 250"), "back_emf", 1000 / 3, (500 / 3,)),
    ("diameter-for-radius", '[state.running]\nbrake_force = "100 N"\npulley_diameter = "0.5 m"\n', "load_torque", 25, (50,)),
    ("cold-resistance-for-hot", WARM, "field_current", 240 / HOT, (2.4,)),
    ("temperature-ratio-without-constant", WARM, "field_current", 240 / HOT, (240 / 375,)),
    ("armature-reaction-ignored", REACTION, "after.speed", 1000 * E_2 / E_1 / 0.95, (1000 * E_2 / E_1,)),
    ("armature-reaction-strengthens", REACTION, "after.speed", 1000 * E_2 / E_1 / 0.95, (1000 * E_2 / E_1 / 1.05,)),
    ("load-law-square-as-linear", FAN.format(law="proportional-to-speed-squared"), "after.armature_current", 10, (20, 40)),
    ("load-law-linear-as-constant", FAN.format(law="proportional-to-speed"), "after.armature_current", 20, (40, 10)),
    ("constant-power-as-constant-torque", FAN.format(law="constant-power"), "after.armature_current", 80, (40,)),
    ("constant-torque-as-constant-power", FAN.format(law="constant"), "after.supply_voltage", 112 + 16, (112 + 32,)),
    ("starter-exponent-off-by-one", STARTER, "starter.current_ratio", RATIO_3, (RATIO_4, RATIO_2)),
    ("studs-for-sections", STARTER, "starter.current_ratio", RATIO_3, (RATIO_4, RATIO_2)),
    ("horsepower-convention", '[state.running]\noutput_power = "10 hp"\ninput_power = "9 kW"\n', "efficiency",
     7456.998715822702 / 9000, (7460 / 9000, 7354.9875 / 9000)),
    ("stray-loss-base", STRAY,
     "output_power", E_1 * 40 / 1.01, (E_1 * 40 - 0.01 * INPUT,)),
    ("stray-loss-forgotten", STRAY,
     "output_power", E_1 * 40 / 1.01, (E_1 * 40,)),
    ("line-current-for-armature-current", SPEED, "electromagnetic_torque", T, (E_1 * 42 / W, (240 - 0.4 * 42) * 42 / W)),
    ("line-current-for-armature-current", KNOWN_FLUX, "electromagnetic_torque", 50, (1.25 * 42,)),
    ("field-current-on-the-wrong-side", spare("motoring.line_current") + BOTH, "generating.back_emf", 265, (240 + 0.25 * 96,)),
    ("field-current-on-the-wrong-side", BOTH, "generating.back_emf over motoring.back_emf", 265 / 230, (264 / 229, 264 / 230)),
    ("generator-sign-for-motor", BOTH, "generating.back_emf over motoring.back_emf", 265 / 230,
     (215 / 250, 265 / 250, 215 / 230)),
    ("generator-sign-for-motor", MOTOR + BRUSH, "back_emf", 222, (258,)),
    ("generator-sign-for-motor", GENERATOR + BRUSH, "back_emf", 267, (213,)),
    ("armature-drop-ignored", MOTOR + BRUSH, "back_emf", 222, (238, 240)),
    ("armature-drop-ignored", GENERATOR + BRUSH, "back_emf", 267, (242, 240)),
    ("brush-drop-added", GENERATOR + BRUSH, "back_emf", 267, (240 + 25 - 2,)),
    ("back-emf-ignored", PLAIN + BRUSH + 'back_emf = "222 V"\n', "armature_current", 40, (238 / 0.4,)),
    ("back-emf-ignored", spare("running.armature_resistance") + MOTOR, "armature_current", 40, (240 / 0.4,)),
    ("armature-input-for-developed-power", SPEED, "electromagnetic_torque", T, (240 * 40 / W, 240 * 42 / W)),
    ("field-copper-left-out", MOTOR, "copper_loss", FIELD + COPPER, (COPPER,)),
    ("field-copper-left-out", LOSSES, "efficiency", 8380 / INPUT, (8380 / (240 * 40),)),
    ("rotational-loss-forgotten", LOSSES, "output_power", 8380, (8880,)),
    ("brush-loss-forgotten", LOSSES, "total_loss", 1700, (1620,)),
    ("armature-reaction-ignored", LOST, "after.speed", 1000 * E_2 / E_1 / 0.95, (1000 * E_2 / E_1,)),
    ("armature-reaction-strengthens", LOST, "after.speed", 1000 * E_2 / E_1 / 0.95, (1000 * E_2 / E_1 / 1.05,)),
    ("flux-left-for-flux-lost", LOST, "after.speed", 1000 * E_2 / E_1 / 0.95, (1000 * E_2 / E_1 / 0.05,)),
    ("flux-kept-though-field-changed", LOST, "after.speed", 1000 * E_2 / E_1 / 0.95, (1000 * E_2 / E_1,)),
    ("armature-reaction-ignored", COMPOUND, "after.speed", 1000 * E_2 / E_1 * 2.2 / 2.1, (1000 * E_2 / E_1,)),
    ("armature-reaction-strengthens", COMPOUND, "after.speed", 1000 * E_2 / E_1 * 2.2 / 2.1, (1000 * E_2 / E_1 * 1.8 / 1.9,)),
    ("lap-for-wave", WINDING.format(conductors="conductors = 500").replace("wave", "lap"), "back_emf", 500 / 3, (1000 / 3,)),
    ("pole-pairs-for-poles", WINDING.format(conductors="conductors = 500").replace("poles = 4", "pole_pairs = 2"), "back_emf",
     1000 / 3, (500 / 3, 2000 / 3)),
    ("starter-exponent-off-by-one", LOWER, "starter.current_ratio", 15 ** (1 / 4), (15 ** (1 / 3),)),
    ("starter-exponent-off-by-one", LIMITS, "starter.exact_sections", log2(10), (log2(10) + 1,)),
    ("starter-exponent-off-by-one", STARTER.replace("sections = 3", "studs = 4"), "starter.current_ratio", RATIO_3, (RATIO_4,)),
    ("line-limit-for-armature-limit", LINE_LIMIT, "starter.current_ratio", RATIO_3, ((600 / 62) ** (1 / 3),)),
    ("line-limit-for-armature-limit", ARMATURE_LIMIT, "starter.current_ratio",
     (600 / 62) ** (1 / 3), (RATIO_3,)),
    ("cold-resistance-for-hot", WARM_ARMATURE, "back_emf", 240 - 40 * 0.004 * HOT, (224,)),
    ("temperature-ratio-without-constant", WARM_ARMATURE, "back_emf", 240 - 40 * 0.004 * HOT, (240 - 40 * 0.4 * 75 / 20,)),
    ("linear-flux-where-the-curve-saturates", WEAKER, "after.speed", 1000 * 224 / 150, (1000 * 224 / 100,)),
    ("linear-flux-where-the-curve-saturates", spare("before.field_current") + BENT, "after.speed",
     224 / (0.1 + 2 / 3) / TURNS, (224 / 0.55 / TURNS,)),
    ("remanence-ignored", spare("before.field_current") + BENT, "after.speed", 224 / (0.1 + 2 / 3) / TURNS,
     (224 / (2 / 3) / TURNS,)),
    ("remanence-ignored", WEAKEST, "after.speed", 1000 * 224 / (10 + 140 / 2), (1000 * 224 / 75,)),
    ("curve-used-at-the-wrong-speed", FASTER, "back_emf", 240, (200,)),
    ("shaft-for-developed", PULLED, "armature_current", 55 / 1.25, (50 / 1.25,)),
    ("line-current-kept", LINE_KNOWN + SAME_CURRENT, "after.speed", 1000 / 0.8, (1000 * (240 - 0.4 * (42 - 1.6)) / E_1 / 0.8,)),
    ("ratio-upside-down", SLOWER, "after.back_emf", E_2, (240 - 0.4 * 40 / 1.5,)),
    ("no-load-input-taken-whole", WATTS_KEPT, "loaded.rotational_loss", LIGHT_LOSS,
     (240 * 4 - 0.4 * 4**2, 240 * 4)),
    ("no-load-copper-loss-convention", WATTS_KEPT, "loaded.rotational_loss", LIGHT_LOSS, (240 * 2,)),
    ("constant-loss-convention", WATTS_KEPT, "loaded.rotational_loss", LIGHT_LOSS,
     (LIGHT_LOSS * E_1 / LIGHT_EMF,)),
    ("constant-loss-convention", LIGHT.format(kept="same-torque"), "loaded.rotational_loss", LIGHT_LOSS * E_1 / LIGHT_EMF,
     (LIGHT_LOSS,)),
    ("constant-loss-convention", CONSTANT.format(parts='"rotational_loss"'), "efficiency", (INPUT - 2120) / INPUT,
     ((INPUT - 1640) / INPUT,)),
    ("constant-loss-convention", CONSTANT.format(parts='"rotational_loss", "field_copper_loss"'), "efficiency",
     (INPUT - 1640) / INPUT, ((INPUT - 2120) / INPUT,)),
    ("armature-current-kept-though-flux-changed", WEAK + '[[link]]\nload = "constant"\ntorque = "electromagnetic_torque"\n',
     "after.speed", 1000 * E_WEAK / E_1 / 0.9, (1000 / 0.9,)),
    ("armature-current-kept-though-flux-changed", RATIO.format(of="electromagnetic_torque").replace(
        "[state.after]", '[state.after]\nflux_ratio = "0.9"'), "after.speed", 1000 * (240 - 0.4 * 60 / 0.9) / E_1 / 0.9,
     (1000 * E_2 / E_1 / 0.9,)),
]  # fmt: skip


@pytest.mark.parametrize(("name", "text", "of", "right", "wrong"), ROWS, ids=[f"{r[0]}-{r[2]}" for r in ROWS])
def test_a_slip_gives_the_mistaken_sum(name: str, text: str, of: str, right: float, wrong: tuple[float, ...]) -> None:
    from shuntref.exercises.verdict import answer_key

    top, _, rest = re.split(r"^(?=(\[))", text, maxsplit=1, flags=re.M)
    whole = top + HEAD + rest + asked(of)
    exercise = exercise_from_text(whole)
    turns = TURNS if answer_key(exercise, "it").quantity == "speed" else 1.0
    assert answer_key(exercise, "it").right == pytest.approx(right * turns, rel=1e-9)
    found = [row.value / turns for row in slipped_answers(exercise)["it"] if row.slip.name == name]
    for value in wrong:
        assert any(other == pytest.approx(value, rel=1e-9) for other in found), (value, found)


def test_the_other_root_is_the_larger_current_of_the_quadratic() -> None:
    """Constant power E I = 205 V x 30 A on 220 V and 1.5 ohm: 1.5 I^2 - 220 I + 6150 = 0."""
    text = HEAD + (
        '[state.running]\nsupply_voltage = "220 V"\narmature_resistance = "1.5 ohm"\nelectromagnetic_power = "6150 W"\n'
        + asked("armature_current")
    )
    found = [row.value for row in slipped_answers(exercise_from_text(text))["it"] if row.slip.name == "other-root"]
    assert found == [pytest.approx((220 + sqrt(220**2 - 4 * 1.5 * 6150)) / 3, rel=1e-9)]


@pytest.mark.parametrize(
    ("kind", "right", "slip", "wrong"),
    [
        ("change_from", 1000 / (1000 * E_2 / E_1) - 1, "regulation-on-the-wrong-base", 1 - E_2 / E_1),
        ("decrease_from", 1 - E_1 / E_2, "regulation-on-the-wrong-base", E_2 / E_1 - 1),
        ("over", E_1 / E_2, "quotient-upside-down", E_2 / E_1),
    ],
)
def test_comparisons_on_the_wrong_base(kind: str, right: float, slip: str, wrong: float) -> None:
    from shuntref.exercises.verdict import answer_key

    exercise = exercise_from_text(HEAD + TWO + AFTER_60 + asked("before.speed") + f'{kind} = "after.speed"\n')
    assert answer_key(exercise, "it").right == pytest.approx(right, rel=1e-9)
    found = [row.value for row in slipped_answers(exercise)["it"] if row.slip.name == slip]
    assert any(value == pytest.approx(wrong, rel=1e-9) for value in found), found


def test_most_slips_are_worked_by_hand_here() -> None:
    done = {row[0] for row in ROWS} | {"other-root", "regulation-on-the-wrong-base", "quotient-upside-down"}
    assert done <= set(catalogue())
    assert len(done) >= 65
