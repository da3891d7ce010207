"""Adding to the store over HTTP: off until a token with the scope ``load`` exists.

The service itself never writes the store. A load runs as a process of its own, the same as
``reedgate load`` on the command line; when it is done, the service takes up the new build as it
would any other.
"""

import asyncio
import json
import logging
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Query, Request, Response
from pydantic import BaseModel, Field

from service.api import problems
from service.api.asked import AskedRoute
from service.api.parameters import ActText, Day, JurisdictionText, store_handle
from service.errors import (
    BadRequest,
    ReedgateError,
    StoreDamaged,
    StoreError,
    StoreMissing,
    StoreOutdated,
    TookTooLong,
)
from service.input.person import read_acts
from service.settings import Settings

router = APIRouter(route_class=AskedRoute, prefix="/v1/loads", tags=["loads"])

Kind = Literal[
    "regulations", "taxonomy", "occurrences", "waters", "watersheds", "boundaries", "zones"
]

_BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    },
    "security": [{"token": []}],
}
_log = logging.getLogger(__name__)

_RAISED: dict[str, type[ReedgateError]] = {
    "StoreMissing": StoreMissing,
    "StoreOutdated": StoreOutdated,
    "StoreDamaged": StoreDamaged,
    "StoreError": StoreError,
}
"""Errors of the loader that are not about the file; all others are."""
_SHARED_BY_TABLES = {
    "place": "--in",
    "title": "--title",
    "county": "--county",
    "authority": "--authority",
    "citation": "--citation",
    "effective_from": "--effective-from",
    "list_kind": "--kind",
}


class FileLoaded(BaseModel):
    """What became of one file."""

    file: str
    source_id: str
    sha256: str
    rows_read: int
    rows_kept: int
    set_apart: Annotated[dict[str, int], Field(description="rows left out, by reason")]
    remarks: Annotated[dict[str, int], Field(description="remarks on rows that were kept")]
    notes: tuple[str, ...]
    unchanged: Annotated[bool, Field(description="the same content was in the store already")]


class LoadReport(BaseModel):
    """What was read, what was kept, and what was set apart and why."""

    kind: str
    unchanged: bool
    rows_read: int
    rows_kept: int
    set_apart: dict[str, int]
    totals: Annotated[dict[str, int], Field(description="what the rows became")]
    files: tuple[FileLoaded, ...]


class Loaded(BaseModel):
    """What a load did."""

    store_build: Annotated[str, Field(description="the build that answers from now on")]
    kind: Kind
    file: str
    report: LoadReport


@dataclass(frozen=True)
class ListOfOnesOwn:
    """What a table of one's own rules does not say itself; a list file says it all."""

    place: Annotated[
        JurisdictionText | None, Query(alias="in", description="where a table's rules hold")
    ] = None
    title: Annotated[
        str | None, Query(max_length=200, description="by which answers name a table's rules")
    ] = None
    list_kind: Annotated[
        Literal["ordinance", "own-rule"] | None,
        Query(description="an ordinance is law; an own rule is answered apart, and is the default"),
    ] = None
    act: Annotated[
        list[ActText] | None,
        Query(description="acts that a table restricts; sell and plant if not given"),
    ] = None
    county: Annotated[str | None, Query(max_length=80)] = None
    authority: Annotated[str | None, Query(max_length=200)] = None
    citation: Annotated[str | None, Query(max_length=500)] = None
    effective_from: Annotated[Day | None, Query(description="first day of a table's rules")] = None

    def options(self) -> list[str]:
        """As options of the command."""
        given = [
            (option, getattr(self, name))
            for name, option in _SHARED_BY_TABLES.items()
            if getattr(self, name) is not None
        ]
        acts = [("--act", act) for act in read_acts(self.act or (), default=None)]
        return [f"{option}={value}" for option, value in (*given, *acts)]


@router.post(
    "/{kind}",
    operation_id="load_file",
    summary="Add a file of open data or law to the store, whole or not at all",
    openapi_extra=_BODY,
    response_model=Loaded,
)
async def load_file(
    request: Request,
    kind: Kind,
    file: Annotated[
        str,
        Query(
            pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,99}$",
            description="name of the file; its ending says what it is",
            examples=["us-oh-invented.toml"],
        ),
    ],
    table: Annotated[ListOfOnesOwn, Depends()],
) -> Loaded | Response:
    """The file is checked whole before anything is changed; the report counts every row."""
    options = table.options()
    if options and kind != "regulations":
        raise BadRequest(
            "A title, a place and the like go with a table of regulations alone.",
            pointer=next(name for name in request.query_params if name != "file"),
            next_step="Leave it out.",
        )
    if store_handle(request).follows:
        return problems.response_of(problems.STORE_PUBLISHED)
    turn: asyncio.Lock = request.app.state.load_turn
    if turn.locked():
        return problems.response_of(problems.LOAD_UNDER_WAY, {"Retry-After": "60"})
    async with turn:
        with tempfile.TemporaryDirectory(prefix="reedgate-load-") as folder:
            path = Path(folder) / file
            with path.open("wb") as stream:
                async for piece in request.stream():
                    stream.write(piece)
            if not path.stat().st_size:
                raise BadRequest("The body is empty.", next_step="Send the file as the body.")
            store = store_handle(request).path
            report = await _load(kind, path, options, store, request.app.state.config)
    library = await asyncio.to_thread(store_handle(request).current)
    return Loaded(store_build=library.build_id, kind=kind, file=file, report=report)


async def _load(
    kind: Kind, path: Path, options: list[str], store: Path, config: Settings
) -> LoadReport:
    """Run the command and read its report.

    Raises:
        BadRequest, BadFile: what the loader says of the file.
        StoreError: the store, or the disk that it is on, cannot take the load.
        TookTooLong: over the time limit.
    """
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        "-c",
        "from service.cli.main import main; main()",
        *("load", kind, str(path), "--store", str(store), "--json", *options),
        stdin=asyncio.subprocess.DEVNULL,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.PIPE,
    )
    try:
        out, err = await asyncio.wait_for(process.communicate(), config.max_load_seconds)
    except TimeoutError as error:
        raise TookTooLong(
            "The load took longer than its time limit.", next_step="Load it on the command line."
        ) from error
    finally:
        if process.returncode is None:
            process.kill()
            await process.wait()
    answer = _answer_of(out, path, store)
    if process.returncode == 0 and answer is not None:
        return LoadReport.model_validate(answer)
    problem = (answer or {}).get("problem")
    _log.warning(
        "a load failed",
        extra={
            "kind": kind,
            "exit": process.returncode,
            "problem": problem["detail"] if problem else _end_of(err),
        },
    )
    if problem is None:
        usage = process.returncode == _WRONG_USAGE
        if usage:
            raise BadRequest(_end_of(err), next_step=_AS_IT_WAS)
        raise StoreError("The load failed; the operator's log says why.", next_step=_AS_IT_WAS)
    next_step = f"{problem['next_step']} {_AS_IT_WAS}".strip()
    raised = _RAISED.get(problem["type"])
    if raised is not None:
        raise raised(problem["detail"], next_step=next_step)
    raise BadRequest(problem["detail"], pointer=problem["pointer"], next_step=next_step)


_WRONG_USAGE = 2
_AS_IT_WAS = "The store is as it was."


def _answer_of(out: bytes, path: Path, store: Path) -> dict[str, Any] | None:
    """The report, or the problem, that the loader printed; without paths of this machine."""
    try:
        answer = json.loads(_without_paths(out.decode("utf-8", "replace"), path, store))
    except json.JSONDecodeError:
        return None
    return answer if isinstance(answer, dict) else None


def _end_of(err: bytes) -> str:
    lines = err.decode("utf-8", "replace").strip().splitlines()
    return lines[-1].removeprefix("Error: ") if lines else ""


def _without_paths(text: str, path: Path, store: Path) -> str:
    return (
        text.replace(str(path), path.name)
        .replace(str(path.parent), "")
        .replace(str(store), store.name)
        .replace(f"{store.parent}/", "")
    )
