"""The report of a reduction: one self-contained page to project or to print."""

from __future__ import annotations

import math

from shuntref.bench.causes import Diagnosis
from shuntref.bench.page import Page
from shuntref.bench.reduction import Reduction
from shuntref.bench.reduction_text import misfit_words
from shuntref.bench.report_drawings import draw_flux_curve, draw_settings, draw_speed_against, draw_torque_family
from shuntref.bench.report_tables import parameter_rows

__all__ = ["derivation_steps", "reduction_page"]

_MOST_CAUSES = 5


def derivation_steps() -> list[tuple[str, str]]:
    """The derivation of the speed equation, each step in words and as a formula.

    Examples
    --------
    >>> derivation_steps()[-1][1]
    'omega = U/kPhi - T_e·(R_a + R_ax)/kPhi²'
    """
    from shuntref.theory.derivation import derive
    from shuntref.theory.notation import text
    from shuntref.theory.rendering import step_words

    return [(step_words(step), text(step.result)) for step in derive("speed").steps]


def _figure(value: float, expanded: float) -> str:
    """A value and its uncertainty, both rounded to where the uncertainty has two figures.

    Examples
    --------
    >>> _figure(1509.31, 2.24), _figure(2.569e-6, 1.5e-6), _figure(41.0, 0.0)
    ('1509.3 ± 2.2', '(2.6 ± 1.5)e-06', '41')
    """
    if not math.isfinite(value):
        return "no running point"
    if not math.isfinite(expanded) or expanded <= 0.0:
        return f"{value:.5g}"
    if abs(value) < 1e-3:
        power = math.floor(math.log10(max(abs(value), expanded)))
        scale = 10.0**power
        digits = max(0, 1 - math.floor(math.log10(expanded / scale)))
        return f"({value / scale:.{digits}f} ± {expanded / scale:.{digits}f})e{power:+03d}"
    digits = max(0, 1 - math.floor(math.log10(expanded)))
    return f"{value:.{digits}f} ± {expanded:.{digits}f}"


def _runs(page: Page, reduction: Reduction) -> None:
    comparison = reduction.comparison
    heads = [
        "run",
        "added in field [Ω]",
        "added in armature [Ω]",
        "measured [r/min]",
        "predicted [r/min]",
        "difference [r/min]",
        "En",
        "verdict",
    ]
    if reduction.simulated:
        heads.insert(5, "Monte Carlo, 95 % [r/min]")
    rows, look = [], []
    for position, run in enumerate(comparison.runs):
        row: list[object] = [
            run.run.name,
            f"{run.run.values.get('added_field_resistance', 0.0):.4g}",
            f"{run.run.values.get('added_armature_resistance', 0.0):.4g}",
            _figure(run.measured, run.measured_expanded),
            _figure(run.predicted, run.predicted_expanded),
            f"{run.measured - run.predicted:+.1f}",
            "" if run.agreement is None else f"{run.agreement.score:+.2f}",
            "agrees" if run.agrees else "does not agree",
        ]
        if reduction.simulated:
            simulated = reduction.simulated[position]
            row.insert(5, "" if simulated is None else f"{simulated.low:.1f} to {simulated.high:.1f}")
        rows.append(row)
        if not run.agrees:
            look.append(position)
    page.table(
        heads,
        rows,
        words=(0, len(heads) - 1),
        look=look,
        caption="Expanded uncertainties, about 95 %. En within -1 and +1: the difference is within what the "
        "uncertainties explain; beyond: look for the cause.",
    )
    currents = [(run, name, *values) for run in comparison.runs for name, values in run.others.items()]
    if currents:
        page.listing(
            "The currents read, beside those predicted",
            [
                f"run {run.run.name}: {name.replace('_', ' ')} read {measured:.4g} A, predicted {predicted:.4g} A, "
                f"{(measured - predicted) / u:+.1f} standard uncertainties apart"
                for run, name, measured, predicted, u in currents
                if u > 0.0
            ],
        )


def _causes(page: Page, diagnosis: Diagnosis) -> None:
    page.subheading(f"Run {diagnosis.run.run.name}" if diagnosis.run is not None else "All runs together")
    page.paragraph(diagnosis.words[0].upper() + diagnosis.words[1:] + ".")
    nothing = misfit_words(diagnosis.unexplained)
    readings = diagnosis.causes[0].readings if diagnosis.causes else 0
    rows: list[list[object]] = [["nothing wrong", "", nothing, "no"]]
    rows += [
        [cause.name, cause.words, misfit_words(cause.misfit), "yes" if cause.explains else "no"]
        for cause in diagnosis.causes[:_MOST_CAUSES]
    ]
    page.table(
        ["cause tried", "what it would mean here", "misfit (chi-square)", "explains the readings"],
        rows,
        words=(0, 1),
        look=(1,) if diagnosis.best is not None else (),
        caption="Each cause was put into the model and predicted with; the misfit is what it leaves of all the "
        f"readings ({readings} of them), in squares of standard uncertainties.",
    )


def _unit(unit: str) -> str:
    """A unit for print: it does not break, and its squares are raised."""
    return unit.replace(" ", "\u00a0").replace("s2/rad2", "s²/rad²")


def _machine(page: Page, reduction: Reduction) -> None:
    found = reduction.identified
    rows = []
    for name, value, expanded, unit, dof, origin in parameter_rows(reduction):
        many = "many" if dof > 1000.0 else f"{dof:.0f}"
        rows.append([name.replace("_", " "), _figure(value, expanded), _unit(unit), many, origin])
    page.table(
        ["parameter", "value, expanded uncertainty", "unit", "degrees of freedom", "from"], rows, words=(0, 2, 4)
    )
    matrix, names = found.parameters.correlation, found.parameters.names
    strong = [
        f"{names[i].replace('_', ' ')} and {names[j].replace('_', ' ')}: {matrix[i, j]:+.2f}"
        for i in range(len(names))
        for j in range(i + 1, len(names))
        if abs(matrix[i, j]) >= 0.1
    ]
    if strong:
        page.listing("Correlations of 0.1 and more between the parameters", strong)
    page.points([*found.missing, *found.warnings])


def reduction_page(reduction: Reduction) -> str:
    """The report as the text of one HTML page.

    Parameters
    ----------
    reduction : Reduction

    Returns
    -------
    str

    Raises
    ------
    ImportError
        When matplotlib is not installed; the message names the extra.

    Examples
    --------
    >>> import pytest
    >>> drawn = pytest.importorskip("matplotlib")
    >>> from shuntref.bench.demo import demo_bench, demo_log
    >>> from shuntref.bench.reduction import reduce_log
    >>> page = reduction_page(reduce_log(demo_bench(), demo_log()))
    >>> "Lantern Yard bench 3" in page
    True
    """
    bench, comparison = reduction.bench, reduction.comparison
    page = Page(
        f"Measured and predicted: {bench.name}",
        f"log file {reduction.log.source or 'without a name'}, "
        f"{len(comparison.runs)} runs compared, bench file {bench.source}",
        invented=bench.invented,
    )
    page.paragraph(reduction.summary, lead=True)
    page.cautions()
    page.heading("Setting by setting")
    page.drawing(
        draw_settings(comparison),
        "Filled round marks are measured, open squares predicted; bars are expanded "
        "uncertainties, about 95 %, and hide behind the marks where they are short. Below: "
        "measured minus predicted on its own scale. A cross marks a run to look at.",
    )
    _runs(page, reduction)
    if reduction.trials:
        page.paragraph(
            f"Monte Carlo: {reduction.trials} trials, seed {reduction.seed}, all sources of error drawn together."
        )
    if reduction.diagnoses:
        page.heading("Why a run does not agree")
        for diagnosis in reduction.diagnoses:
            _causes(page, diagnosis)
    for circuit, words in (
        (
            "field",
            "Less field current, weaker flux, higher speed, as long as the back EMF stays above half the supply.",
        ),
        ("armature", "The same torque needs the same current; what the resistor takes is missing from the back EMF."),
    ):
        svg = draw_speed_against(comparison, circuit)
        if svg is not None:
            page.heading(f"Speed against resistance added in the {circuit} circuit")
            page.drawing(svg, f"{words} Numbers are runs. A run with a cross does not agree with its prediction.")
    page.heading("Speed-torque family")
    settings = [(_setting_words(run.run.values), comparison.measured.settings[run.position]) for run in comparison.runs]
    page.drawing(
        draw_torque_family(comparison.model, settings, comparison.runs, bench.limits.speed_rpm),
        "One line for each setting as it was written down; points are the runs at the torque that was read.",
    )
    page.heading("The machine identified" if comparison.from_identified else "The machine of the bench file")
    _machine(page, reduction)
    curve = [stage for stage in reduction.identified.stages if stage.what == "magnetisation curve"]
    page.drawing(
        draw_flux_curve(comparison, curve[0].runs if curve else ()),
        "The flux curve that predicts, the readings behind it, and where the compared runs lie on it.",
    )
    page.heading("Where the prediction comes from")
    page.paragraph("From the laws to the speed in six lines; the brush drop is put back in by lowering U by it.")
    page.steps(derivation_steps())
    page.heading("The log, line by line")
    refused = reduction.log.refused()
    page.paragraph(
        "No line was refused." if not refused else f"{len(refused)} line{'s' if len(refused) > 1 else ''} refused:"
    )
    page.points([f"line {record.line}: {record.reason}" for record in refused])
    page.listing("Every line and what became of it", reduction.log.listing().splitlines())
    if reduction.notes:
        page.heading("Assumed, and worth knowing")
        page.points(reduction.notes)
    return page.text()


def _setting_words(values: dict[str, float]) -> str:
    parts = [
        f"{values[f'added_{name}_resistance']:.3g} Ω in the {name}"
        for name in ("field", "armature")
        if values.get(f"added_{name}_resistance", 0.0) > 0.0
    ]
    return ", ".join(parts) if parts else "nothing added"
