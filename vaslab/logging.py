"""One JSON line an event on standard output, made so that a patient cannot appear in it.

Two rules carry that. A request is named by its route, never by its address, query or browser. Of a library's
message only the fixed part is kept, and of an exception only its kind and the lines of code it passed: its
words often quote what was typed.
"""

import logging
import time
import traceback
from collections.abc import Callable
from typing import Any

import structlog
from django.http import HttpRequest, HttpResponse

OURS = ("vaslab", "access", "jobs", "exams", "reports", "training")

log = structlog.get_logger("vaslab.request")


def only_the_fixed_part(logger: Any, method: str, event: dict[str, Any]) -> dict[str, Any]:
    """Replace a library's finished message by its template, without what was filled in."""
    record: logging.LogRecord | None = event.get("_record")
    if record is not None and record.name.split(".")[0] not in OURS:
        event["event"] = str(record.msg)
    return event


def only_where_it_failed(logger: Any, method: str, event: dict[str, Any]) -> dict[str, Any]:
    """Replace an exception by its class and its lines of code."""
    record: logging.LogRecord | None = event.get("_record")
    error = event.pop("exc_info", None) or (record.exc_info if record is not None else None)
    event.pop("stack_info", None)
    if isinstance(error, BaseException):
        error = (type(error), error, error.__traceback__)
    if isinstance(error, tuple) and error[0] is not None:
        event["error"] = error[0].__name__
        event["at"] = [
            f"{frame.filename}:{frame.lineno} {frame.name}" for frame in traceback.extract_tb(error[2])[-12:]
        ]
    return event


_SHARED: list[Any] = [
    structlog.contextvars.merge_contextvars,
    structlog.stdlib.add_logger_name,
    structlog.stdlib.add_log_level,
    structlog.processors.TimeStamper(fmt="iso", utc=True),
]

structlog.configure(
    processors=[*_SHARED, structlog.stdlib.ProcessorFormatter.wrap_for_formatter],
    logger_factory=structlog.stdlib.LoggerFactory(),
    wrapper_class=structlog.stdlib.BoundLogger,
    cache_logger_on_first_use=True,
)

LOGGING: dict[str, Any] = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "json": {
            "()": structlog.stdlib.ProcessorFormatter,
            "foreign_pre_chain": _SHARED,
            "processors": [
                only_the_fixed_part,
                only_where_it_failed,
                structlog.stdlib.ProcessorFormatter.remove_processors_meta,
                structlog.processors.JSONRenderer(),
            ],
        }
    },
    "handlers": {"out": {"class": "logging.StreamHandler", "formatter": "json"}},
    "root": {"handlers": ["out"], "level": "WARNING"},
    "loggers": {
        **{name: {"level": "INFO"} for name in OURS},
        # These write the address or a header into the fixed part or bring handlers of their own.
        "django": {"handlers": ["out"], "level": "WARNING", "propagate": False},
        "django.server": {"handlers": [], "level": "CRITICAL", "propagate": False},
        "gunicorn.error": {"handlers": ["out"], "level": "INFO", "propagate": False},
        "celery": {"level": "WARNING"},
    },
}


class RequestLog:
    """Write one line a request: route, method, answer, time and who by number."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        began = time.perf_counter()
        response = self.get_response(request)
        route = request.resolver_match.view_name if request.resolver_match else None
        if route is not None:
            person = getattr(request, "person", None)
            log.info(
                "answered",
                route=route,
                method=request.method,
                status=response.status_code,
                milliseconds=round((time.perf_counter() - began) * 1000, 1),
                user=person.user.pk if person else None,
            )
        return response
