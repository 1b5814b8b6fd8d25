"""How the REST framework is fitted to this service: who asks is known already, errors have one shape.

Named in the settings, so it may import nothing of the framework that reads them: see ``access.api``.
"""

import json
from typing import IO, Any, cast

from django.core.exceptions import PermissionDenied, ValidationError
from django.http import Http404
from rest_framework import exceptions
from rest_framework.authentication import BaseAuthentication
from rest_framework.negotiation import BaseContentNegotiation
from rest_framework.parsers import JSONParser
from rest_framework.request import Request
from rest_framework.response import Response

from access.middleware import record_failure
from access.permissions import NotAble, NotHere
from access.refusals import Refusal, said, said_of, said_of_ability
from access.requests import ArrivingRequest


class ByToken(BaseAuthentication):
    """Says to the framework what ``access.bearer`` found out and the role matrix let pass."""

    def authenticate(self, request: Request) -> tuple[Any, None] | None:
        person = cast(ArrivingRequest, request._request).person
        return (person.user, None) if person else None


class AlwaysJson(BaseContentNegotiation):
    """Whatever is said to be accepted, the answer is JSON: there is nothing else to choose from."""

    def select_parser(self, request: Request, parsers: Any) -> Any:
        sent = (request.content_type or "").split(";")[0].strip().lower()
        return next((parser for parser in parsers if parser.media_type == sent), None)

    def select_renderer(self, request: Request, renderers: Any, format_suffix: Any = None) -> Any:
        return renderers[0], renderers[0].media_type


class PlainJson(JSONParser):
    """JSON in Unicode, whatever the header says of its letters; too deep or broken off is not readable."""

    def parse(self, stream: IO[Any], media_type: str | None = None, parser_context: Any = None) -> Any:
        try:
            return json.loads(stream.read(), parse_constant=_no_number)
        except (ValueError, RecursionError, OSError):
            raise exceptions.ParseError("it is not whole and valid JSON") from None


def _no_number(text: str) -> None:
    raise ValueError(f"{text} is not JSON")


def answer_error(error: Exception, context: dict[str, Any]) -> Response | None:
    """The answer to whatever went wrong in a view; None leaves a failure of ours to the site's own page."""
    request = context["request"]._request
    if isinstance(error, Refusal):
        return Response(said(error.code, error.words, error.what_to_do, error.field), status=error.status)
    if isinstance(error, PermissionDenied | exceptions.PermissionDenied):
        record_failure(request, "refused")
        about = said_of_ability(request.person, error.ability) if isinstance(error, NotAble) else said_of(403)
        return Response(about, status=403)
    if isinstance(error, Http404):
        if isinstance(error, NotHere):
            record_failure(request, "asked for what is not here")
        return Response(said_of(404), status=404)
    if isinstance(error, ValidationError):
        return Response(_of_a_service(error), status=422)
    if isinstance(error, exceptions.ValidationError):
        return Response(_of_a_serializer(error), status=422)
    if isinstance(error, exceptions.ParseError):
        return Response(
            said("not_readable", f"The body cannot be read: {error.detail}", _AS_DESCRIBED), status=400
        )
    if isinstance(error, exceptions.UnsupportedMediaType):
        words = "The body is of a kind that is not taken here."
        return Response(said("wrong_kind", words, _AS_DESCRIBED, "Content-Type"), status=415)
    return None


_AS_DESCRIBED = "Send what the description of the interface (/api/v1/schema/) says."


def _of_a_service(error: ValidationError) -> dict[str, str]:
    if hasattr(error, "error_dict"):
        field, first = next((name, found[0]) for name, found in error.error_dict.items())
    else:
        field, first = "", error.error_list[0]
    words = " ".join(first.messages)
    return said(first.code or "not_taken", words, "Nothing was kept. Mend it and send it again.", field)


def _of_a_serializer(error: exceptions.ValidationError) -> dict[str, str]:
    field = ""
    detail: Any = error.detail
    while isinstance(detail, dict | list) and detail:
        if isinstance(detail, dict):
            name, detail = next(iter(detail.items()))
            field = str(name) if name != "non_field_errors" else field
        else:
            detail = detail[0]
    code = getattr(detail, "code", "") or "not_taken"
    return said(code, str(detail), "Nothing was kept. Mend it and send it again.", field)
