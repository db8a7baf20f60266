"""Published blocked-rotor and no-load tests, identified from their readings and held against what the source prints."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from importlib.resources import files

from shuntref.bench.error_sources import fixed
from shuntref.bench.identify import identify
from shuntref.bench.readings import read_log
from shuntref.quantities.text import parse_value

__all__ = ["NoLoadExample", "no_load_examples"]


@dataclass(frozen=True, slots=True)
class NoLoadExample:
    """A published test: the log of its readings, what it states besides, and the figures that it prints."""

    identity: str
    source: str
    seen: str
    log: str
    brush_drop: str
    printed: dict[str, str]
    note: str = ""
    armature_resistance: str = ""
    source_id: str | list[str] = ""

    def allowance(self, name: str) -> float:
        """Half a unit of the last printed digit; the last factor lets a figure exactly on the edge pass."""
        return 0.5 * 10.0 ** -len(self.printed[name].partition(".")[2]) * (1.0 + 1e-9)

    def computed(self) -> dict[str, float]:
        """Return the figures that the readings give, for the names that the source prints.

        Examples
        --------
        >>> round(no_load_examples()[0].computed()["armature_resistance"], 9)
        0.06
        """
        drop = parse_value("brush_drop", self.brush_drop)
        stated = {"brush_drop": drop}
        if self.armature_resistance:
            stated["armature_resistance"] = parse_value("armature_resistance", self.armature_resistance)
        log = read_log(self.log, self.identity)
        found = identify(log, brush_drop=drop, curve="proportional", stated=fixed(stated))
        figures = found.values()
        run = next((run for run in log.runs if run.test == "no-load"), None)
        if run is not None:
            machine = found.machine({"field_resistance": run.values["supply_voltage"] / run.values["field_current"]})
            speed = parse_value("speed", f"{run.values['speed_rpm']!r} r/min")
            figures["back_emf"] = machine.flux.k_phi(run.values["field_current"]) * speed
            figures["rotational_loss"] = machine.loss_torque.torque(speed) * speed
        return {name: figures[name] for name in self.printed}


def no_load_examples() -> tuple[NoLoadExample, ...]:
    """All examples of references/bench/no_load_examples.toml."""
    text = files("shuntref.references").joinpath("bench", "no_load_examples.toml").read_text(encoding="utf-8")
    rows = tomllib.loads(text)["example"]
    return tuple(NoLoadExample(identity=row.pop("id"), **row) for row in rows)
