"""Log lines as JSON, one a line, on standard error.

No query, body or error text unless the operator asked for them.
"""

import json
import logging
import time
import traceback
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

ACCESS = logging.getLogger("reedgate.access")
FAILURES = logging.getLogger("reedgate.failures")

_STANDARD = frozenset(vars(logging.makeLogRecord({}))) | {
    "message",
    "asctime",
    "taskName",
    "color_message",
}
_written = json.JSONEncoder(ensure_ascii=False, default=str).encode


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


class JsonLines(logging.Formatter):
    """A record as one JSON object: time (UTC), level, logger, message, what was passed as
    ``extra``, and where an error came from.
    """

    def __init__(self, *, contents: bool = False) -> None:
        super().__init__()
        self._contents = contents

    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, Any] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
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
