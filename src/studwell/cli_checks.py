"""The commands `studwell stock`, `studwell verify` and `studwell bench`: what the toolkit itself rests on."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from studwell.cli_shared import Bars, Json, app, out_console, plainly


@app.command()
@plainly
def stock(kind: Annotated[str | None, typer.Argument(metavar="[KIND]", help="What to list.")] = None) -> None:
    """List materials, threads, nuts, washers, springs and gaskets with their sources."""
    from studwell.show.stock import stock_kinds, stock_table

    console = out_console()
    if kind is not None and kind not in stock_kinds():
        raise typer.BadParameter(f"{kind!r}; kinds: {', '.join(stock_kinds())}", param_hint="KIND")
    for name in [kind] if kind else stock_kinds():
        console.print(stock_table(name))


@app.command()
@plainly
def verify(
    quick: Annotated[bool, typer.Option("--quick", help="Leave out the slow checks.")] = False,
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for verification.html.")] = Path("reports"),
) -> None:
    """Run every published and closed-form check; exit 1 if one fails."""
    from studwell.show.verification import verification_page, verification_table
    from studwell.store.summary import libraries
    from studwell.store.writing import check_folder, write_json, write_text
    from studwell.verify.run import run_checks

    check_folder(out)
    console = out_console()
    with Bars() as bars:
        results = run_checks(quick, lambda _, done, total: bars.step("checks", done, total))
    console.print(verification_table(results))
    failed = [result for result in results if result.fails_the_run]
    path = write_text(out / "verification.html", verification_page(results, libraries()))
    rows = [
        {"check": r.check.slug, "subject": r.check.subject, "status": r.check.status, "gate": r.check.gate,
         "passed": r.passed, "error": r.error,
         "rows": [[row.quantity, row.expected, row.obtained, row.tolerance, row.unit] for row in r.rows]}
        for r in results
    ]  # fmt: skip
    write_json(out / "summary.json", {"schema": 1, "versions": libraries(), "quick": quick, "checks": rows})
    agree = sum(result.passed for result in results)
    console.print(f"{agree} of {len(results)} checks agree; {len(failed)} that count fail; page in {path}")
    if outside := [result.check.slug for result in results if not result.passed and not result.check.gate]:
        console.print(f"differ from figures that are only remembered, and do not count: {', '.join(outside)}")
    if failed:
        for result in failed:
            typer.echo(f"studwell: {result.check.slug} fails: {result.error or 'a figure differs'}", err=True)
        raise typer.Exit(1)


@app.command()
@plainly
def bench(
    case: Annotated[Path, typer.Argument(metavar="[CASE]", help="Case to measure.")] = Path("cases/hut-pump.toml"),
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for bench.json.")] = Path("results/bench"),
    json: Json = None,
) -> None:
    """Measure this machine's times, memory and ratios beside their targets."""
    from studwell.bench.run import bench_record, run_bench
    from studwell.show.table import bench_table
    from studwell.store.writing import check_file, check_folder, write_json

    if json is not None:
        check_file(json)
    else:
        check_folder(out)

    console = out_console()
    with Bars() as bars:
        measures = run_bench(case, lambda done, total: bars.step("measures", done, total))
    console.print(bench_table(measures))
    path = write_json(json or out / "bench.json", bench_record(measures))
    console.print(f"record in {path}", soft_wrap=True)
