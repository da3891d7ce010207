"""How ``reedgate load`` tells of its work: a progress bar, counts in words, or a report as JSON."""

import json
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

import click
from rich.progress import BarColumn, TextColumn, TimeElapsedColumn, TimeRemainingColumn
from rich.progress import Progress as Bar
from rich.table import Table

from service.cli.common import console
from service.errors import BadFile, BadRequest, ReedgateError

if TYPE_CHECKING:
    from data_loaders.progress import LoadProgress, Progress
    from data_loaders.regulations.own_lists import ListFileLoad, OwnListReport
    from data_loaders.report import LoadReport

_F = TypeVar("_F", bound=Callable[..., Any])


def json_option(function: _F) -> _F:
    """``--json``."""
    return click.option(
        "--json",
        "as_json",
        is_flag=True,
        help="Print the report as JSON; of a load that failed, an object with the key problem.",
    )(function)


def replace_option(function: _F) -> _F:
    """``--replace``."""
    return click.option(
        "--replace",
        default="",
        metavar="FILE-OR-ID",
        help="Take out first what this file, loaded before, brought: its name, or its source id.",
    )(function)


def column_option(function: _F) -> _F:
    """``--column``, more than once if wanted."""
    return click.option(
        "--column",
        "columns",
        multiple=True,
        metavar="TERM=HEADING",
        help="Which heading of the table means which Darwin Core term.",
    )(function)


@contextmanager
def reporting(as_json: bool) -> Iterator[None]:
    """With ``--json``, a load that fails prints what went wrong as JSON too::

        {"problem": {"type": "BadFile", "title": "...", "detail": "...", "next_step": "...",
                     "file": "a.csv", "place": "line 7", "pointer": ""}}

    and ends with the same exit code as without it. A load of which nothing could be kept has the
    counts beside it under ``report``.
    """
    if not as_json:
        yield
        return
    try:
        yield
    except ReedgateError as error:
        problem = {
            "type": type(error).__name__,
            "title": error.title,
            "detail": error.detail,
            "next_step": error.next_step,
            "file": error.file if isinstance(error, BadFile) else "",
            "place": error.place if isinstance(error, BadFile) else "",
            "pointer": error.pointer if isinstance(error, BadRequest) else "",
        }
        report = getattr(error, "report", None)
        print_json({"problem": problem, **({"report": report.as_json()} if report else {})})
        sys.exit(2 if isinstance(error, BadRequest) else 1)


def print_json(content: Mapping[str, object]) -> None:
    """One JSON object on standard output."""
    click.echo(json.dumps(content, ensure_ascii=False, indent=1))


def print_report(
    report: "LoadReport", *, as_json: bool, meanings: Mapping[str, str] | None = None
) -> None:
    """What became of every row of every file.

    Args:
        meanings: of reasons that are codes.
    """
    if as_json:
        print_json(report.as_json())
        return
    texts = meanings or {}
    for one in report.files:
        if one.unchanged:
            say(f"{one.file}: the same content is in the store already; nothing changed.")
            continue
        say(f"{one.file}: {one.rows_read:,} rows read, {one.rows_kept:,} kept.")
        for what, counts in (("set apart", one.set_apart), ("kept, with a remark", one.remarks)):
            for reason, count in counts.items():
                meaning = f" ({texts[reason]})" if reason in texts else ""
                say(f"  {count:,} {what}: {reason}{meaning}")
        for note in one.notes:
            say(f"  {note}")
        if one.undelivered:
            say(f"  {one.undelivered:,} announced by the service and not delivered")


def say(line: str) -> None:
    """A line as it is, without colours."""
    console.print(line, markup=False, highlight=False)


@contextmanager
def progress_bar(as_json: bool) -> "Iterator[Progress | None]":
    """A progress bar with rows, rate and time left; none beside JSON."""
    if as_json:
        yield None
        return
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.fields[rate]}"),
        TimeElapsedColumn(),
        TimeRemainingColumn(),
    )
    with Bar(*columns, console=console, transient=True) as bar:
        task = bar.add_task("Reading", total=None, rate="")

        def advance(now: "LoadProgress") -> None:
            bar.update(
                task,
                description=f"{now.file}: {now.stage}",
                total=None if now.done is None else 1.0,
                completed=now.done or 0.0,
                rate=f"{now.rows:,} rows, {now.rows_per_s:,.0f}/s",
            )

        yield advance


def of_list_files(loads: "Sequence[ListFileLoad]") -> "LoadReport":
    """Of list files in the form of every load; ``notes`` has what became of each."""
    from data_loaders.report import FileReport, LoadReport

    return LoadReport(
        "law",
        tuple(
            FileReport(
                one.file,
                f"{one.list_id}@{one.version}" if one.version else one.list_id,
                "",
                one.entries,
                one.entries,
                notes=(one.outcome,),
                unchanged=one.outcome == "unchanged",
            )
            for one in loads
        ),
    )


def of_own_list(report: "OwnListReport") -> "LoadReport":
    """Of a list of one's own in the form of every load: rows by kind; ``notes`` has the outcome,
    then each row that is not stored.
    """
    from data_loaders.report import FileReport, LoadReport

    counts = {kind: count for kind, count in report.counts.items() if kind != "blank"}
    kept = counts.pop("entry", 0)
    rows = [f"row {row.number} ({row.listed}): {row.say}" for row in report.doubtful]
    one = FileReport(
        report.file,
        report.list_id,
        "",
        kept + sum(counts.values()),
        kept,
        set_apart={str(row_kind): count for row_kind, count in counts.items()},
        notes=(report.outcome, *report.notes, *rows),
        unchanged=report.outcome == "unchanged",
    )
    return LoadReport("own-rule" if report.kind == "own-rule" else "law", (one,))


def print_own_list(report: "OwnListReport") -> None:
    understood = ", ".join(f"{field} in {title!r}" for field, title in report.columns.items())
    console.print(
        f"{report.file}: {report.written_as}; {understood or 'no heading'}",
        markup=False,
        highlight=False,
    )
    shown = Table("Row", "As listed", "Taken as", "Class", "What was understood")
    for row in report.rows:
        if row.kind != "blank":
            taken = row.accepted_name or (
                " or ".join(row.candidates) + " ?" if row.candidates else ""
            )
            shown.add_row(
                str(row.number),
                row.listed or row.common,
                taken,
                row.class_name,
                f"{row.kind}: {row.say}" if row.say else row.kind,
            )
    console.print(shown)
    for note in report.notes:
        console.print(note, markup=False, highlight=False)
    if report.doubtful:
        rows = ", ".join(str(row.number) for row in report.doubtful)
        console.print(
            f"Not stored until you choose their names (--choose ROW=NAME): rows {rows}.",
            markup=False,
            highlight=False,
        )
    stored = "nothing is stored" if report.outcome == "dry-run" else report.outcome
    law = (
        "law, answered with the state's" if report.kind == "ordinance" else "no law, answered apart"
    )
    console.print(
        f"{report.list_id} ({law}): {len(report.model.entries) if report.model else 0} entries;"
        f" {stored}.",
        markup=False,
        highlight=False,
    )
