"""A log reduced: read, identified, compared, explained. What the command line, the report and the tour share."""

from __future__ import annotations

from dataclasses import dataclass, replace

from shuntref.bench.assumed_instruments import with_assumed_instruments
from shuntref.bench.bench_file import Bench
from shuntref.bench.causes import Diagnosis, diagnose
from shuntref.bench.compare import Comparison, Simulated, compare, monte_carlo_intervals
from shuntref.bench.error_sources import fixed
from shuntref.bench.identify import IdentifiedMachine, identify
from shuntref.bench.identify_loss import TERMS
from shuntref.bench.instrument_set import InstrumentSet
from shuntref.bench.odd_readings import odd_readings
from shuntref.bench.readings import BenchLog

__all__ = ["Reduction", "reduce_log"]


@dataclass(frozen=True)
class Reduction:
    """Everything that came out of a log; ``simulated`` is empty unless a Monte Carlo was asked for.

    ``assumed_instruments`` says in words which instruments were taken because the bench file describes none.
    """

    bench: Bench
    log: BenchLog
    identified: IdentifiedMachine
    comparison: Comparison
    diagnoses: tuple[Diagnosis, ...]
    simulated: tuple[Simulated | None, ...] = ()
    trials: int = 0
    seed: int = 0
    assumed_instruments: tuple[str, ...] = ()

    @property
    def odd(self) -> tuple[str, ...]:
        """Currents that do not belong to their run, a sentence each."""
        return odd_readings(self.comparison.runs)

    @property
    def assumptions(self) -> tuple[str, ...]:
        """What was assumed and still matters: what the log itself told is no longer assumed."""
        gone = ["starting current", "resistors used"]
        if self.comparison.from_identified:
            found = self.identified.parameters.names
            gone += [name.replace("_", " ") for name in found if name in self.bench.uncertainties]
            if any(stage.what == "magnetisation curve" for stage in self.identified.stages):
                gone += ["flux", "remanence"]
            if any(name in TERMS for name in found):
                gone.append("loss torque")
        if all(run.load in ("read", "none") for run in self.comparison.runs):
            gone += ["load torque", "no [load]"]
        left = [note for note in self.bench.assumptions if not note.startswith(tuple(gone))]
        return (*self.assumed_instruments, *left)

    @property
    def notes(self) -> tuple[str, ...]:
        """Everything that is worth knowing beside the figures."""
        return (*self.log.notes, *self.comparison.notes, *self.assumptions)

    @property
    def summary(self) -> str:
        """The outcome in a sentence or two."""
        runs = self.comparison.runs
        agreeing = sum(run.agrees for run in runs)
        count = (
            f"{agreeing} of {len(runs)} runs agree"
            if agreeing < len(runs)
            else ("the run agrees" if len(runs) == 1 else f"all {len(runs)} runs agree")
        )
        text = f"{count} with prediction within the expanded uncertainties"
        guessed = self.bench.guess is not None and not any(
            s.what == "magnetisation curve" for s in self.identified.stages
        )
        if guessed and agreeing < len(runs):
            text += ". The machine was only guessed from its nameplate: doubt the guess before the wiring"
        sentences = [text, *(d.headline for d in self.diagnoses), *self.odd]
        return ". ".join(words[0].upper() + words[1:] for words in sentences) + "."


def reduce_log(bench: Bench, log: BenchLog, *, trials: int = 0, seed: int = 1) -> Reduction:
    """Identify the machine of a log, compare its runs with prediction, and look for the cause of every disagreement.

    Parameters
    ----------
    bench : Bench
    log : BenchLog
    trials : int
        Of a Monte Carlo evaluation beside the first-order one; 0 for none.
    seed : int

    Returns
    -------
    Reduction

    Notes
    -----
    First-order propagation after JCGM 100 (figures of its examples seen in secondary places).

    Examples
    --------
    >>> from shuntref.bench.demo import demo_bench, demo_log
    >>> done = reduce_log(demo_bench(), demo_log())
    >>> [diagnosis.best.name for diagnosis in done.diagnoses if diagnosis.run is not None and diagnosis.best is not None]
    ['resistor in the line']
    """
    machine = bench.machine
    read = frozenset(name for run in log.runs for name in run.values)
    instruments, assumed = with_assumed_instruments(bench.instruments, read)
    bench = replace(bench, instruments=instruments)
    names = ("armature_resistance", "field_resistance", "brush_drop")
    stated = fixed(
        {name: getattr(machine, name) for name in names}, {name: bench.uncertainties[name] for name in names}
    )
    found = identify(
        log,
        InstrumentSet.of(bench.instruments),
        stated=stated,
        name=machine.name,
        invented=bench.invented,
        connection=machine.connection,
    )
    comparison = compare(bench, log, found)
    simulated = monte_carlo_intervals(comparison, trials, seed) if trials else ()
    return Reduction(bench, log, found, comparison, diagnose(comparison), simulated, trials, seed, assumed)
