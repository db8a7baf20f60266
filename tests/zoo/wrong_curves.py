"""Wrong implementations with a magnetisation table, Froehlich's curve or armature reaction; see wrong_running.py."""

import math
from itertools import pairwise

from wrong_running import Motor, pretend


class Table(Motor):
    """Right: straight lines between the points of the table."""

    def curve(self, current):
        xs, ys = self.table_field_current, self.table_back_emf
        rising = all(a < b for a, b in (*pairwise(xs), *pairwise(ys)))
        if len(xs) != len(ys) or len(xs) < 2 or not rising or xs[0] < 0 or ys[0] < 0 or not xs[0] <= current <= xs[-1]:
            raise ValueError("outside the table, or no table")
        return self.read(xs, ys, current)

    def read(self, xs, ys, current):
        i = next(i for i in range(1, len(xs)) if current <= xs[i])
        return ys[i - 1] + (ys[i] - ys[i - 1]) * (current - xs[i - 1]) / (xs[i] - xs[i - 1])

    def flux(self):
        return self.curve(self.field_current()) / self.table_speed

    def answer(self):
        return self.flux(), self.speed()


class NearestPoint(Table):
    def read(self, xs, ys, current):
        return ys[min(range(len(xs)), key=lambda i: abs(xs[i] - current))]


class Froehlich(Motor):
    def flux(self):
        current = self.field_current()
        return self.remanent_k_phi + self.froehlich_a * current / (self.froehlich_b + current)

    def answer(self):
        return self.flux(), self.speed()


class FroehlichExchanged(Froehlich):
    def flux(self):
        current = self.field_current()
        return self.remanent_k_phi + self.froehlich_b * current / (self.froehlich_a + current)


class RemanenceIgnored(Froehlich):
    def flux(self):
        current = self.field_current()
        return self.froehlich_a * current / (self.froehlich_b + current)


class Reaction(Motor):
    """Right: the armature current by fixed-point iteration from no load, slow but sure below the largest torque."""

    weakening = 1

    def effective(self, current):
        return self.field_current() - self.weakening * self.reaction_coefficient * current

    def answer(self):
        c, d, t = self.flux_constant, self.weakening * self.reaction_coefficient, self.torque()
        discriminant = self.field_current() ** 2 - 4 * d * t / c
        if discriminant < 0:
            raise ValueError("more torque than the reaction leaves")
        current = 2 * t / c / (self.field_current() + math.sqrt(discriminant))
        emf = self.supply_voltage - current * self.armature_circuit() - self.brushes(current)
        if emf < 0:
            raise ValueError("beyond stall")
        return current, emf / (c * self.effective(current))


class ReactionIgnored(Reaction):
    weakening = 0


class ReactionStrengthens(Reaction):
    weakening = -1


nearest = pretend(NearestPoint)
froehlich_exchanged = pretend(FroehlichExchanged)
remanence = pretend(RemanenceIgnored)
reaction_ignored = pretend(ReactionIgnored)
reaction_strengthens = pretend(ReactionStrengthens)

right_speed_with_table = pretend(Table)
right_speed_with_froehlich = pretend(Froehlich)
right_speed_with_armature_reaction = pretend(Reaction)
