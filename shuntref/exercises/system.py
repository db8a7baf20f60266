"""From an exercise to a system of equations: laws per state, links, conventions, and what each name stands for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from shuntref.exercises.curve import Curve
from shuntref.exercises.equation import CurveEquation, Equation, LawEquation, WholeEquation
from shuntref.exercises.inversion import law_form
from shuntref.exercises.links import link_equations, link_state
from shuntref.exercises.starter_equations import limit_states, starter_laws
from shuntref.exercises.state_laws import TAKEN_AS_NOTHING, TYING, WINDING, laws_of_state
from shuntref.exercises.statement import (
    STARTER,
    Entry,
    Exercise,
    ExerciseError,
    RatioLink,
    Ref,
    State,
)
from shuntref.quantities.text import WrittenValue, read_value
from shuntref.theory.laws import all_laws
from shuntref.theory.laws.law import Law
from shuntref.theory.laws.losses import constant_loss_law

__all__ = ["System", "build_system"]

#: which of two tied names is kept: the one nearer to the machine, in this order
_KEPT = ("supply_voltage", "armature_resistance", "added_armature_resistance", "field_resistance", "field_current",
         "armature_current", "electromagnetic_torque", "electromagnetic_power", "k_phi")  # fmt: skip


@dataclass
class System:
    """The equations of one exercise.

    ``given`` holds the data of the file, ``nothing`` what is taken as nothing, ``readings`` values read off a curve
    (used where nothing else determines them, checked where something does), ``read_at`` the other coordinate of each.
    """

    exercise: Exercise
    laws: Mapping[str, Law]
    given: dict[Ref, WrittenValue] = field(default_factory=dict)
    nothing: dict[Ref, float] = field(default_factory=dict)
    readings: dict[Ref, WrittenValue] = field(default_factory=dict)
    read_at: dict[Ref, Ref] = field(default_factory=dict)
    equations: list[Equation] = field(default_factory=list)
    tied: dict[Ref, Ref] = field(default_factory=dict)
    mentioned: set[Ref] = field(default_factory=set)

    def bind(self, ref: Ref) -> Ref:
        """The quantity that stands for ``ref`` after all ties."""
        while ref in self.tied:
            ref = self.tied[ref]
        return ref

    def mentions(self, state: str, name: str) -> bool:
        """Whether the exercise mentions or asks the quantity, for this state or for all."""
        return Ref(state, name) in self.mentioned or Ref("", name) in self.mentioned

    def tie(self, ref: Ref, to: Ref) -> None:
        """Let ``ref`` stand for the same as ``to``."""
        one, other = self.bind(ref), self.bind(to)
        if one != other:
            self.tied[one] = other

    def standstill(self, state: State) -> bool:
        """Whether the shaft is said to stand still."""
        entries = (self.exercise.given(Ref(state.name, name)) for name in ("speed", "speed_rpm"))
        return any(entry is not None and entry.value == 0 for entry in entries)


def build_system(exercise: Exercise, laws: Mapping[str, Law] | None = None) -> System:
    """Set up the equations of an exercise.

    Parameters
    ----------
    exercise
        A checked exercise.
    laws
        Laws to use in the place of those of the theory layer with the same slug.

    Raises
    ------
    ExerciseError
        Two names of one thing are given different values.

    Examples
    --------
    >>> from shuntref.exercises.statement_file import exercise_from_text
    >>> system = build_system(exercise_from_text('''
    ... title = "Back EMF"
    ... statement = "A 240 V motor of 0.2 ohm takes 50 A. Find the back EMF."
    ... [state.running]
    ... supply_voltage = "240 V"
    ... armature_resistance = "0.2 ohm"
    ... armature_current = "50 A"
    ... [answer.emf]
    ... of = "back_emf"
    ... '''))
    >>> str(system.bind(Ref("running", "armature_circuit_resistance")))
    'running.armature_resistance'
    """
    system = System(exercise, all_laws() | dict(laws or {}))
    system.mentioned = set(_mentioned(exercise))
    _shared_ties(system)
    _flux_ties(system)
    _enter_values(system)
    _take_as_nothing(system)
    _state_equations(system)
    _tie_by_laws(system)
    in_rpm = not any("speed" in state.entries and state.entries["speed"] for state in exercise.states.values())
    for number, link in enumerate(exercise.links, start=1):
        system.equations += link_equations(exercise, number, link, system.bind, in_rpm)
    system.equations = _settled(system)
    return system


def _mentioned(exercise: Exercise) -> Iterator[Ref]:
    for name in exercise.shared:
        yield Ref("", name)
    for state in exercise.states.values():
        for name in state.entries:
            yield Ref(state.name, name)
    for answer in exercise.answers.values():
        yield answer.of
        if answer.against:
            yield answer.against
    for link in exercise.links:
        if isinstance(link, RatioLink):
            yield from (*link.of, link.to)
    for rule in exercise.roots:
        yield rule.of


def _all_states(exercise: Exercise) -> list[str]:
    return [*exercise.states, *([STARTER, *limit_states(exercise.starter)] if exercise.starter else [])]


def _shared_ties(system: System) -> None:
    exercise = system.exercise
    for name in _all_states(exercise):
        entries = exercise.states[name].entries if name in exercise.states else {}
        for quantity in exercise.shared:
            if quantity not in entries:
                system.tie(Ref(name, quantity), Ref("", quantity))
    for quantity in WINDING:
        # the winding is the machine's: it is common to all states unless one of them has a machine of its own
        if quantity != "flux_per_pole" and not any(quantity in state.entries for state in exercise.states.values()):
            for name in exercise.states:
                system.tie(Ref(name, quantity), Ref("", quantity))
    shared = {"same-watts": "rotational_loss", "same-torque": "loss_torque"}.get(exercise.losses.rotational)
    if shared:
        for state in exercise.states.values():
            if shared not in state.entries and not system.standstill(state):
                system.tie(Ref(state.name, shared), Ref("", shared))


def _flux_ties(system: System) -> None:
    """Say which name each state's flux goes by: its own, the common one, or the one before a stated share is lost."""
    exercise = system.exercise
    for name in exercise.states:
        reduced = system.mentions(name, "flux_ratio") or system.mentions(name, "reaction_flux_loss")
        wound = "flux_per_pole" in exercise.shared and not exercise.flux.law
        if exercise.flux.law == "constant" or wound:
            system.tie(Ref(name, "reference_k_phi" if reduced else "k_phi"), Ref("", "k_phi"))
        elif not reduced:
            system.tie(Ref(name, "reference_k_phi"), Ref(name, "k_phi"))
    for name in _all_states(exercise):
        if exercise.flux.at_speed is not None:
            system.tie(Ref(name, "curve_speed"), Ref("", "curve_speed"))
        if exercise.flux.law == "proportional":
            system.tie(Ref(name, "flux_constant"), Ref("", "flux_constant"))


def _enter_values(system: System) -> None:
    exercise = system.exercise
    for name, entry in exercise.shared.items():
        _enter(system, Ref("", name), entry)
    for state in exercise.states.values():
        for name, entry in state.entries.items():
            _enter(system, Ref(state.name, name), entry)
    for number, link in enumerate(exercise.links, start=1):
        if isinstance(link, RatioLink):
            _enter(system, Ref(link_state(number), "torque_ratio"), link.ratio)
    if exercise.flux.at_speed is not None:
        text = exercise.flux.at_speed.text
        _enter(system, Ref("", "curve_speed"), read_value("curve_speed", text))
    for reading in exercise.flux.readings:
        for name in reading.states:
            current, emf = Ref(name, "effective_field_current"), Ref(name, "curve_emf")
            system.readings[current], system.readings[emf] = reading.field_current, reading.back_emf
            system.read_at |= {current: emf, emf: current}
    if exercise.losses.stray_share is not None:
        for name in exercise.states:
            system.tie(Ref(name, "stray_share"), Ref("", "stray_share"))
        _enter(system, Ref("", "stray_share"), exercise.losses.stray_share)
    starter = exercise.starter
    if starter:
        for side, limit in (("upper", starter.upper_current), ("lower", starter.lower_current)):
            if limit is not None and starter.limits_in == "armature":
                _enter(system, Ref(STARTER, f"{side}_current"), limit)
            elif limit is not None:
                _enter(system, Ref(f"{STARTER}-{side}", "line_current"), limit)
        if starter.sections:
            _enter(system, Ref(STARTER, "sections"), read_value("sections", str(starter.sections)))


def _enter(system: System, ref: Ref, entry: Entry) -> None:
    if entry is not None:
        system.given[system.bind(ref)] = entry


def _take_as_nothing(system: System) -> None:
    exercise = system.exercise
    implied = {"brush_drop": ("brush_drop_per_brush",), "stray_loss": (),
               "reaction_field_current": ("reaction_coefficient", "demagnetising_mmf")}  # fmt: skip
    for name in _all_states(exercise):
        state = exercise.states.get(name)
        still = state is not None and system.standstill(state)
        for quantity, value in TAKEN_AS_NOTHING.items():
            if state is None and quantity not in ("brush_drop", "added_field_resistance"):
                continue
            others = implied.get(quantity, ())
            if still and quantity == "added_armature_resistance":
                others = ("starting_resistance",)
            if quantity == "stray_loss" and exercise.losses.stray_share is not None and not still:
                continue
            if not any(system.mentions(name, other) for other in (quantity, *others)):
                system.nothing[system.bind(Ref(name, quantity))] = value
        if state is not None:
            none = exercise.losses.rotational == "none"
            if none or "rotational-loss" in state.neglect | exercise.neglect or still:
                for quantity in ("rotational_loss", "loss_torque")[: 1 if still and not none else 2]:
                    if not system.mentions(name, quantity):
                        system.nothing[system.bind(Ref(name, quantity))] = 0.0
        if exercise.connection == "permanent-magnet":
            system.nothing[system.bind(Ref(name, "field_current"))] = 0.0
        for part in ("constant_torque", "linear_torque_coefficient", "square_torque_coefficient"):
            if state is not None and not system.mentions(name, part):
                system.nothing[system.bind(Ref(name, part))] = 0.0


def _state_equations(system: System) -> None:
    exercise = system.exercise
    curve = Curve(exercise.flux.field_current, exercise.flux.back_emf, exercise.flux.join) if (
        exercise.flux.law == "table") else None  # fmt: skip
    for name, state in exercise.states.items():
        slugs = list(laws_of_state(exercise, state, lambda quantity, name=name: system.mentions(name, quantity),  # type: ignore[misc]
                                   system.standstill(state)))  # fmt: skip
        laws = [system.laws[slug] for slug in slugs]
        if exercise.losses.constant_loss_is:
            laws.append(constant_loss_law(exercise.losses.constant_loss_is))
        for law in laws:
            system.equations.append(_at_work(law, name, state.action == "generator"))
        if curve is not None:
            system.equations.append(CurveEquation(curve, Ref(name, "effective_field_current"), Ref(name, "curve_emf")))
    if exercise.starter:
        for state_name, slug in starter_laws(exercise):
            system.equations.append(_at_work(system.laws[slug], state_name, False))
        for side in ("upper", "lower"):
            source = getattr(exercise.starter, f"{side}_from")
            if source:
                system.tie(Ref(STARTER, f"{side}_current"), Ref(source, "armature_current"))
            elif exercise.starter.limits_in == "line" and getattr(exercise.starter, f"{side}_current"):
                system.tie(Ref(f"{STARTER}-{side}", "armature_current"), Ref(STARTER, f"{side}_current"))
                system.tie(Ref(f"{STARTER}-{side}", "field_current"), Ref(STARTER, "field_current"))
        exact, whole = Ref(STARTER, "exact_sections"), Ref(STARTER, "sections")
        if exercise.starter.sections == 0:
            system.equations.append(WholeEquation(exact, whole, exercise.starter.whole))


def _at_work(law: Law, state: str, generating: bool) -> LawEquation:
    before_loss = law.name in ("flux-proportional", "flux-froehlich", "curve-emf")
    binding = {}
    for name in law.quantities:
        binding[name] = Ref(state, "reference_k_phi" if name == "k_phi" and before_loss else name)
    return LawEquation(law, binding, generating)


def _tie_by_laws(system: System) -> None:
    """Drop the names that a law makes equal to another name because everything else in it is nothing."""
    zero = {ref for ref, value in system.nothing.items() if value == 0}
    for _ in range(3):  # a tie may empty another law
        for equation in system.equations:
            if not isinstance(equation, LawEquation) or equation.slug not in TYING:
                continue
            bound = {name: system.bind(ref) for name, ref in equation.binding.items()}
            zeros = frozenset(name for name, ref in bound.items() if ref in zero)
            form = law_form(equation.law, zeros, (), equation.generating)
            names = [name for name in form.names if not _is_one(system, bound[name])]
            if len(names) == 2 and bound[names[0]] != bound[names[1]] and _plain(form.names, form.residual, names):
                _tie_pair(system, bound[names[0]], bound[names[1]], equation)


def _is_one(system: System, ref: Ref) -> bool:
    return ref.quantity == "flux_ratio" and system.nothing.get(ref) == 1.0


def _plain(names: tuple[str, ...], residual: object, kept: list[str]) -> bool:
    """Whether the rest of the law says that two quantities are equal."""
    from shuntref.exercises.inversion import sign

    expression = residual.subs({sign(name): 1 for name in names if name not in kept})  # type: ignore[attr-defined]
    return bool(expression - (sign(kept[0]) - sign(kept[1])) == 0 or expression + sign(kept[0]) - sign(kept[1]) == 0)


def _tie_pair(system: System, one: Ref, other: Ref, equation: LawEquation) -> None:
    values = [system.given.get(ref) for ref in (one, other)]
    if values[0] is not None and values[1] is not None:
        slack = values[0].half_unit + values[1].half_unit
        if abs(values[0].value - values[1].value) > slack * (1 + 1e-9):
            raise ExerciseError(
                f"{one} = {values[0].text} and {other} = {values[1].text} contradict each other: {equation.title}, and "
                f"everything else in this law is taken as nothing; "
                f"mention what makes the difference{_difference(equation)}"
            )
    kept, dropped = (one, other) if _rank(system, one) <= _rank(system, other) else (other, one)
    if dropped in system.given and kept not in system.given:
        kept, dropped = dropped, kept
    system.tie(dropped, kept)
    if dropped in system.given and kept in system.given:
        system.given.pop(dropped)


def _difference(equation: LawEquation) -> str:
    able = [name for name in equation.law.quantities if name in TAKEN_AS_NOTHING]
    return f', such as {able[0]} = "unknown"' if able else ""


def _rank(system: System, ref: Ref) -> tuple[int, int, int]:
    place = _KEPT.index(ref.quantity) if ref.quantity in _KEPT else len(_KEPT)
    return (0 if ref in system.given else 1, 0 if ref.state == "" else 1, place)


def _settled(system: System) -> list[Equation]:
    """The equations over the quantities that are left after all ties, each once."""
    settled: list[Equation] = []
    seen: set[object] = set()
    for equation in system.equations:
        fresh: Equation
        if isinstance(equation, LawEquation):
            binding = {name: system.bind(ref) for name, ref in equation.binding.items()}
            key: object = (equation.law, tuple(sorted(binding.items())), equation.generating)
            fresh = LawEquation(equation.law, binding, equation.generating, equation.because)
        elif isinstance(equation, CurveEquation):
            current, emf = system.bind(equation.current), system.bind(equation.emf)
            key, fresh = ("curve", current, emf), CurveEquation(equation.curve, current, emf)
        else:
            key, fresh = "whole", equation
        if key not in seen and len(fresh.refs) > 1:
            seen.add(key)
            settled.append(fresh)
        elif key not in seen and isinstance(fresh, LawEquation):
            seen.add(key)
            if law_form(fresh.law, frozenset(), fresh.merged, fresh.generating).names:
                settled.append(fresh)
    system.given = {system.bind(ref): value for ref, value in system.given.items()}
    system.nothing = {system.bind(ref): value for ref, value in system.nothing.items()}
    system.readings = {system.bind(ref): value for ref, value in system.readings.items()}
    system.read_at = {system.bind(ref): system.bind(other) for ref, other in system.read_at.items()}
    return settled
