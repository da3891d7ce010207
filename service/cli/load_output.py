"""How ``reedgate load`` tells of its work: a progress bar, counts in words, or a report as JSON."""

import json
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

import click
from rich.progress import BarColumn, TextColumn, TimeElapsedColumn, TimeRemainingColumn
from rich.progress import Progress as Bar

from service.cli.common import console
from service.errors import BadFile, BadRequest, ReedgateError

if TYPE_CHECKING:
    from data_loaders.progress import LoadProgress, Progress
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
