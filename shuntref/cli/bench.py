"""``shuntref plan`` and ``shuntref reduce``: before and after a day at the bench."""

from __future__ import annotations

import json
import sys

import click

from shuntref.whole_file import write_whole

__all__ = ["plan", "reduce"]

_REPORT = click.option(
    "--report",
    "report_file",
    type=click.Path(dir_okay=False),
    metavar="FILE.html",
    help="Write one self-contained page to project or print (needs matplotlib: the extra 'report').",
)
_JSON = click.option("--json", "as_json", is_flag=True, help="Print everything as one JSON document.")


def _note(words: str) -> None:
    """Say on a terminal what takes long; a pipe hears nothing."""
    if sys.stderr.isatty():
        click.echo(words, err=True)


@click.command()
@click.argument("bench_file", type=click.Path(dir_okay=False), metavar="BENCH.toml")
@_REPORT
@_JSON
def plan(bench_file: str, report_file: str | None, as_json: bool) -> int:
    """Plan a session at the bench that BENCH.toml describes.

    Out come the runs in order (baseline, field steps, armature steps), each with resistors from your kit and what they
    carry, the settings refused and the limit that refuses them, the start with its resistors and peaks, and what happens
    if the field opens. How to write the file is told in references/bench/README.md; references/bench/bench.toml is an
    invented example.

    With only the nameplate known, [nameplate] and [guess] are enough to begin with; measure the armature resistance first.

    A plan is a prediction and not a permission: local codes, the maker's limits and an authorised person decide. The
    exit status is 1 when the bench breaks one of its own limits with nothing added, so that there is nothing to plan.

    \b
    Example:
      shuntref plan bench.toml --report plan.html
    """
    from shuntref.bench.bench_file import load_bench
    from shuntref.bench.plan import make_plan
    from shuntref.bench.plan_text import plan_data, plan_text

    made = make_plan(load_bench(bench_file))
    if report_file is not None:
        from shuntref.bench.report_plan import plan_page

        _note("drawing the page ...")
        write_whole(report_file, plan_page(made))
    if as_json:
        click.echo(json.dumps(plan_data(made), indent=1, ensure_ascii=False))
    else:
        click.echo(plan_text(made))
        if report_file is not None:
            click.echo(f"\nThe page is {report_file}")
    return 0 if made.baseline_refusal is None else 1


@click.command()
@click.argument("log_file", type=click.Path(dir_okay=False), metavar="LOG.csv")
@click.option(
    "--bench",
    "bench_file",
    type=click.Path(dir_okay=False),
    required=True,
    metavar="BENCH.toml",
    help="The bench file that the session was planned with.",
)
@_REPORT
@click.option(
    "--tables", "folder", type=click.Path(file_okay=False), metavar="DIR", help="Write the tables as CSV files."
)
@click.option(
    "--monte-carlo",
    "trials",
    type=click.IntRange(100, 1_000_000),
    metavar="N",
    help="Predict by N Monte Carlo trials as well (10000 is a good number).",
)
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="Of the Monte Carlo trials.")
@_JSON
def reduce(
    log_file: str,
    bench_file: str,
    report_file: str | None,
    folder: str | None,
    trials: int | None,
    seed: int,
    as_json: bool,
) -> int:
    """Compare the readings of LOG.csv with prediction, and say what is behind a disagreement.

    The log is a CSV file from a spreadsheet; a line names its columns with their units ("U [V]", "field amps", "n, r/min").
    Whatever it allows is identified first: armature and field resistance, brush drop, flux curve, loss torque. The other
    runs are then predicted and compared, both sides with expanded uncertainty. Where a run disagrees, the likely causes
    are tried out in the model and ranked by how well the readings then fit. Every line of the log is accounted for.
    Describe your instruments in the bench file: those that are not described are taken as ordinary ones, and a verdict is
    worth no more than that. references/bench/logs.md tells how a log is written.

    \b
    Example:
      shuntref reduce log.csv --bench bench.toml --report report.html --tables tables
    """
    from shuntref.bench.bench_file import load_bench
    from shuntref.bench.readings import read_log_file
    from shuntref.bench.reduction import reduce_log
    from shuntref.bench.reduction_text import reduction_text
    from shuntref.bench.report_tables import reduction_data, write_tables

    bench = load_bench(bench_file)
    if trials:
        _note(f"{trials} Monte Carlo trials ...")
    done = reduce_log(bench, read_log_file(log_file), trials=trials or 0, seed=seed)
    if report_file is not None:
        from shuntref.bench.report import reduction_page

        _note("drawing the page ...")
        write_whole(report_file, reduction_page(done))
    written = write_tables(done, folder) if folder is not None else []
    if as_json:
        click.echo(json.dumps(reduction_data(done), indent=1, ensure_ascii=False))
        return 0
    click.echo(reduction_text(done))
    if report_file is not None:
        click.echo(f"\nThe page is {report_file}")
    if written:
        click.echo(f"\nThe tables are {', '.join(path.name for path in written)} in {folder}")
    return 0
