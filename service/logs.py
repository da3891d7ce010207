"""Log lines as JSON, one a line, on standard error.

No query, body or error text unless the operator asked for them.
"""

import logging
import time
import traceback
from collections.abc import Mapping
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any

from pydantic_core import to_json

ACCESS = logging.getLogger("reedgate.access")
FAILURES = logging.getLogger("reedgate.failures")

_STANDARD = frozenset(vars(logging.makeLogRecord({}))) | {
    "message",
    "asctime",
    "taskName",
    "color_message",
}


def _written(line: Mapping[str, object]) -> str:
    return to_json(line, fallback=str, inf_nan_mode="constants").decode()


def answered(facts: Mapping[str, object]) -> None:
    """The line of a request. As ``ACCESS.info`` with ``extra``, without looking for the caller."""
    if ACCESS.isEnabledFor(logging.INFO):
        ACCESS.handle(_Answered(facts))


class _Answered(logging.LogRecord):
    """What a record says of thread, process and place in the program is not looked up."""

    name = ACCESS.name
    msg = "answered"
    args = None
    levelno, levelname = logging.INFO, "INFO"
    pathname = filename = module = funcName = ""
    lineno = 0
    exc_info = exc_text = stack_info = None
    msecs = relativeCreated = 0.0

    def __init__(self, facts: Mapping[str, object]) -> None:
        vars(self).update(facts)
        self.created = time.time()


def _moment(seconds: float) -> str:
    milliseconds = int(seconds * 1_000)
    return f"{_second(milliseconds // 1_000)}.{milliseconds % 1_000:03}+00:00"


@lru_cache(maxsize=2)
def _second(seconds: int) -> str:
    return datetime.fromtimestamp(seconds, UTC).strftime("%Y-%m-%dT%H:%M:%S")


class JsonLines(logging.Formatter):
    """A record as one JSON object: time (UTC), level, logger, message, what was passed as
    ``extra``, and where an error came from.
    """

    def __init__(self, *, contents: bool = False) -> None:
        super().__init__()
        self._contents = contents

    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, Any] = {
            "time": _moment(record.created),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
        }
        line |= {key: value for key, value in vars(record).items() if key not in _STANDARD}
        if record.exc_info and record.exc_info[1] is not None:
            line |= self._failure(record.exc_info[1])
        return _written(line)

    def _failure(self, error: BaseException) -> dict[str, Any]:
        frames = traceback.extract_tb(error.__traceback__)
        fields: dict[str, Any] = {
            "error": type(error).__name__,
            "at": [f"{frame.filename}:{frame.lineno} {frame.name}" for frame in frames],
        }
        # The text of an error often repeats what was sent.
        return fields | {"error_text": str(error)} if self._contents else fields


def log_config(level: str, *, contents: bool) -> dict[str, Any]:
    """The logging set-up (``logging.config.dictConfig``) of the service and its server."""
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {"json": {"()": "service.logs.JsonLines", "contents": contents}},
        "handlers": {
            "stderr": {
                "class": "logging.StreamHandler",
                "formatter": "json",
                "stream": "ext://sys.stderr",
            }
        },
        "root": {"handlers": ["stderr"], "level": "WARNING"},
        "loggers": {
            "reedgate": {"level": level.upper()},
            "service": {"level": level.upper()},
            "uvicorn": {"level": level.upper()},
            # Its lines hold the query, and with it what was asked; ours stand in their place.
            "uvicorn.access": {"level": "CRITICAL"},
        },
    }
