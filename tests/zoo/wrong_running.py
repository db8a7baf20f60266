"""Wrong implementations for a running motor: each class makes one mistake, and is otherwise right.

Written without the package under test, in the registry's names and units. wrong.toml names the function of the suite
that each one pretends to be and the flag it must be caught by.
"""

import math


def sign(x):
    return (x > 0) - (x < 0)


class Motor:
    """A right one: every step is a method, so that a mistake is one method written differently."""

    positive = ("supply_voltage", "source_voltage", "field_voltage", "field_resistance", "armature_resistance", "flux_constant",
                "k_phi", "reference_speed", "table_speed", "froehlich_a", "froehlich_b", "field_turns",
                "reaction_coefficient")  # fmt: skip
    not_negative = ("added_field_resistance", "added_armature_resistance", "brush_drop", "loss_torque", "line_resistance",
                    "remanent_k_phi", "demagnetising_mmf", "rotational_loss")  # fmt: skip

    def __init__(self, **given):
        self.__dict__.update(dict.fromkeys(self.not_negative, 0.0))
        self.__dict__.update(given)
        for name, value in given.items():
            if name in self.positive and not value > 0:
                raise ValueError(f"{name} = {value} is not positive")
            if name in self.not_negative and not value >= 0:
                raise ValueError(f"{name} = {value} is negative")
        self.given = given

    def field_circuit(self):
        return self.field_resistance + self.added_field_resistance

    def armature_circuit(self):
        return self.armature_resistance + self.added_armature_resistance

    def voltage_on_field(self):
        return self.given.get("field_voltage", self.supply_voltage)

    def field_current(self):
        return self.voltage_on_field() / self.field_circuit()

    def flux(self):
        return self.given.get("k_phi") or self.flux_constant * self.field_current()

    def torque(self):
        return self.load_torque + self.loss_torque

    def armature_current(self):
        if "line_current" in self.given:
            return self.line_current - self.field_current()
        return self.torque() / self.flux()

    def brushes(self, current):
        return self.brush_drop * sign(current)

    def emf(self):
        current = self.armature_current()
        emf = self.supply_voltage - current * self.armature_circuit() - self.brushes(current)
        if emf < 0:
            raise ValueError("beyond stall")
        return emf

    def speed(self):
        return self.emf() / self.flux()

    def answer(self):
        return self.speed()


class RevolutionsPerMinute(Motor):
    def speed(self):
        return super().speed() * 30 / math.pi


class TakenForRevolutions(Motor):
    def speed(self):
        return super().speed() * 2 * math.pi / 60


class TwoPiForgotten(Motor):
    def speed(self):
        return super().speed() / (2 * math.pi)


class DropIgnored(Motor):
    def emf(self):
        return self.supply_voltage


class DropAdded(Motor):
    def emf(self):
        current = self.armature_current()
        return self.supply_voltage + current * self.armature_circuit() + self.brushes(current)


class FluxNotSquared(Motor):
    def emf(self):
        drop = self.torque() * self.armature_circuit() + self.brushes(self.torque())
        if drop > self.supply_voltage:
            raise ValueError("beyond stall")
        return self.supply_voltage - drop


class FluxKept(Motor):
    def field_circuit(self):
        return self.field_resistance


class AddedArmatureIgnored(Motor):
    def armature_circuit(self):
        return self.armature_resistance


class Exchanged(Motor):
    def __init__(self, **given):
        super().__init__(**given)
        self.added_field_resistance, self.added_armature_resistance = (
            self.added_armature_resistance,
            self.added_field_resistance,
        )


class ArmatureWindingForgotten(Motor):
    def armature_circuit(self):
        return self.added_armature_resistance


class Parallel(Motor):
    def armature_circuit(self):
        own, added = self.armature_resistance, self.added_armature_resistance
        return own * added / (own + added) if added else own


class LossTorqueForgotten(Motor):
    def torque(self):
        return self.load_torque


class BrushForgotten(Motor):
    def brushes(self, current):
        return 0.0


class BrushDoubled(Motor):
    def brushes(self, current):
        return 2 * super().brushes(current)


class BrushHalved(Motor):
    def brushes(self, current):
        return super().brushes(current) / 2


class BrushSignKept(Motor):
    def brushes(self, current):
        return self.brush_drop


class BrushHelps(Motor):
    def brushes(self, current):
        return -super().brushes(current)


class Overhauling(Motor):
    def torque(self):
        return abs(self.load_torque) + self.loss_torque


class FieldFromArmatureSupply(Motor):
    def voltage_on_field(self):
        return self.supply_voltage


class BehindLine(Motor):
    """Right: the voltage at the motor by fixed-point iteration from no load."""

    def settle(self):
        self.supply_voltage = self.source_voltage
        for _ in range(2000):
            at_motor = self.source_voltage - self.line_resistance * (self.armature_current() + self.field_current())
            if at_motor <= 0:
                raise ValueError("the line cannot feed this torque")
            if abs(at_motor - self.supply_voltage) < 1e-14 * at_motor:
                return
            self.supply_voltage = at_motor
        raise ValueError("no solution")

    def answer(self):
        self.settle()
        return self.supply_voltage, self.armature_current() + self.field_current(), self.speed()


class LineDropIgnored(BehindLine):
    def settle(self):
        self.supply_voltage = self.source_voltage


class ArmatureResistorAhead(Motor):
    def answer(self):
        line = BehindLine(
            **{k: v for k, v in self.given.items() if k not in ("supply_voltage", "added_armature_resistance")},
            source_voltage=self.supply_voltage,
            line_resistance=self.added_armature_resistance,
        )
        return line.answer()[-1]


class Currents(Motor):
    def answer(self):
        field = self.field_current()
        return field, self.armature_current(), self.armature_current() + field


class FieldWindingForgotten(Currents):
    def field_circuit(self):
        return self.added_field_resistance


class LineIsArmature(Currents):
    def answer(self):
        return self.field_current(), self.armature_current(), self.armature_current()


class FieldAdded(Currents):
    def answer(self):
        return self.field_current(), self.armature_current(), self.armature_current() - self.field_current()


class Emf(Motor):
    def answer(self):
        return self.emf()


class LineForArmature(Emf):
    def armature_current(self):
        return self.line_current


class FieldAddedToLine(Emf):
    def armature_current(self):
        return self.line_current + self.field_current()


class Torques(Motor):
    def answer(self):
        power = self.emf() * self.armature_current()
        return power / self.given["speed"], (power - self.rotational_loss) / self.given["speed"]


class RotationalLossForgotten(Torques):
    def answer(self):
        developed, _ = super().answer()
        return developed, developed


class RotationalLossTwice(Torques):
    def answer(self):
        developed, shaft = super().answer()
        return developed, 2 * shaft - developed


class BackEmfIgnored(Motor):
    def answer(self):
        current = (self.supply_voltage - self.brush_drop) / self.armature_circuit()
        return current, self.flux() * current


class Regulation(Motor):
    def answer(self):
        ideal = self.supply_voltage / self.flux()
        if self.speed() <= 0:
            raise ValueError("stalled")
        return self.ratio(ideal, self.speed())

    def ratio(self, ideal, loaded):
        return (ideal - loaded) / loaded


class OnNoLoadSpeed(Regulation):
    def ratio(self, ideal, loaded):
        return (ideal - loaded) / ideal


class InPercent(Regulation):
    def ratio(self, ideal, loaded):
        return 100 * super().ratio(ideal, loaded)


class FanTakenAsConstant(Motor):
    pass


class FanTakenAsProportional(Motor):
    def answer(self):
        slope = self.load_torque / self.reference_speed
        k, r = self.k_phi, self.armature_circuit()
        found = (k * self.supply_voltage - r * self.loss_torque) / (k * k + r * slope)
        if found <= 0:
            raise ValueError("stalled")
        return found


class Unchecked(Motor):
    """No limits at all: whatever comes in goes through the formula."""

    positive = not_negative = ()

    def __init__(self, **given):
        added = ("added_field_resistance", "added_armature_resistance", "brush_drop", "loss_torque")
        self.__dict__.update(dict.fromkeys(added, 0.0))
        self.__dict__.update(given)
        self.given = given

    def emf(self):
        current = self.armature_current()
        return self.supply_voltage - current * self.armature_circuit() - self.brushes(current)


def pretend(motor):
    """Return the class as a function that takes the given quantities by name."""

    def lab_function(**given):
        return motor(**given).answer()

    return lab_function


unchecked = pretend(Unchecked)
rpm = pretend(RevolutionsPerMinute)
radians_as_rpm = pretend(TakenForRevolutions)
two_pi = pretend(TwoPiForgotten)
drop_ignored = pretend(DropIgnored)
drop_added = pretend(DropAdded)
flux_not_squared = pretend(FluxNotSquared)
flux_kept = pretend(FluxKept)
added_ignored = pretend(AddedArmatureIgnored)
exchanged = pretend(Exchanged)
field_winding = pretend(FieldWindingForgotten)
armature_winding = pretend(ArmatureWindingForgotten)
parallel = pretend(Parallel)
loss_torque = pretend(LossTorqueForgotten)
brush_forgotten = pretend(BrushForgotten)
brush_doubled = pretend(BrushDoubled)
brush_halved = pretend(BrushHalved)
brush_sign = pretend(BrushSignKept)
brush_helps = pretend(BrushHelps)
overhauling = pretend(Overhauling)
armature_supply = pretend(FieldFromArmatureSupply)
line_drop = pretend(LineDropIgnored)
ahead = pretend(ArmatureResistorAhead)
line_is_armature = pretend(LineIsArmature)
field_added = pretend(FieldAdded)
line_for_armature = pretend(LineForArmature)
field_added_to_line = pretend(FieldAddedToLine)
rotational_forgotten = pretend(RotationalLossForgotten)
rotational_twice = pretend(RotationalLossTwice)
back_emf_ignored = pretend(BackEmfIgnored)
on_no_load = pretend(OnNoLoadSpeed)
percent = pretend(InPercent)
fan_constant = pretend(FanTakenAsConstant)
fan_proportional = pretend(FanTakenAsProportional)

right_speed = pretend(Motor)
right_currents = pretend(Currents)
right_back_emf = pretend(Emf)
right_torque_from_line_current = pretend(Torques)
right_speed_regulation = pretend(Regulation)
