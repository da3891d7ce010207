"""The jobs of the service: where they are kept, and what is done for one."""

import json
from datetime import date
from pathlib import Path

from fastapi import FastAPI, Request

from service.settings import Settings
from service.shared.homes import job_home
from service.shared.jobs import JobHome, Perform, Progress
from service.store.library import StoreHandle


def install(app: FastAPI, config: Settings, store: Path) -> None:
    """Give the application its jobs. Where some may be waiting already, begin to do them."""
    app.state.jobs = job_home(config, store)
    app.state.perform = _perform(app.state.store, config)
    if config.database_url or config.jobs_path(store).exists():
        app.state.jobs.work(app.state.perform)


def stop(app: FastAPI) -> None:
    """Do no more jobs in this process; what is under way is left for another."""
    home: JobHome = app.state.jobs
    home.stop()


def jobs_of(request: Request) -> JobHome:
    """The jobs. From the first that is asked for on, this process does some of them."""
    state = request.app.state
    home: JobHome = state.jobs
    home.work(state.perform)
    return home


def screening_task(body: bytes, on: date) -> bytes:
    """A community screening as a task: the day, then the body as it was sent."""
    return json.dumps({"on": on.isoformat()}).encode() + b"\n" + body


def _perform(store: StoreHandle, config: Settings) -> Perform:
    def perform(task: bytes, progress: Progress) -> dict[str, bytes]:
        # Here, so that a worker is ready before these are loaded.
        from service.checks.community.screening import screen_community
        from service.input.community import read_community
        from service.input.json_document import parse_json
        from service.output.community import all_forms

        head, _, body = task.partition(b"\n")
        answer = screen_community(
            store.current(),
            read_community(parse_json(body)),
            on=date.fromisoformat(json.loads(head)["on"]),
            border_tolerance_m=config.border_tolerance_m,
            progress=progress,
        )
        return all_forms(answer)

    return perform
