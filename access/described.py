"""How the operations for programs are described: what each kind of them takes, answers and refuses."""

from collections.abc import Sequence
from typing import Any

from django.urls import resolve
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema, inline_serializer
from rest_framework import serializers

from access.matrix import rule_for, scopes_holding

KEY_HEADER = "Idempotency-Key"
ETAG_HEADER = "ETag"
IF_MATCH_HEADER = "If-Match"
RETRY_HEADER = "Retry-After"

KEY_PARAMETER = OpenApiParameter(
    name=KEY_HEADER,
    location=OpenApiParameter.HEADER,
    required=True,
    type={"type": "string", "pattern": "^[!-~]{8,60}$"},
    description="The sender's own name for what it sends, never used twice. The same key with the same "
    "content is answered with what it made before (200); with other content it is refused (409).",
)
IF_MATCH_PARAMETER = OpenApiParameter(
    name=IF_MATCH_HEADER,
    location=OpenApiParameter.HEADER,
    required=True,
    type={"type": "string", "pattern": '^"[0-9a-f]{32}"$'},
    description=f"The {ETAG_HEADER} of the answer in which the program last read the thing that is changed, "
    "such as the exam whose step is taken. Missing, the change is refused (428); if it was changed since, "
    "too (412).",
)
_ETAG_ANSWERED = OpenApiParameter(
    name=ETAG_HEADER,
    location=OpenApiParameter.HEADER,
    response=[200, 201],
    type=str,
    description=f"The mark of this state, to be sent as {IF_MATCH_HEADER} with a change; that of findings is "
    "the findings_etag of a report.",
)


class ErrorAnswer(serializers.Serializer):
    """What every error answer looks like."""

    code = serializers.CharField(
        help_text="Stable; for the program. `not_taken`: a rule of the record refuses it; words say which."
    )
    field = serializers.CharField(
        allow_blank=True,
        help_text="The part of what was sent that is meant, or what cannot be done yet, such as a step of an "
        "exam; empty for the whole.",
    )
    words = serializers.CharField(help_text="What is wrong, for a person.")
    what_to_do = serializers.CharField(help_text="The next step, for a person.")


def errors(**more: str) -> dict[int, OpenApiResponse]:
    """The error answers of an operation for its description: those every one has, and ``more`` by status
    (``s409="This exam …"``)."""
    always = {
        "s400": "The request cannot be read.",
        "s401": "No token, or none that is in force.",
        "s403": "The token may not do that: code and words say whether it lacks a scope.",
        "s429": "Too many requests: of this token within a minute, or from here without a token in force. "
        f"{RETRY_HEADER} says after how many seconds to go on.",
        "s500": "A failure of ours; nothing was kept halfway.",
    }
    return {
        int(status[1:]): OpenApiResponse(ErrorAnswer, description=words)
        for status, words in sorted({**always, **more}.items())
    }


_WITH_BODY = {
    "s413": "Larger than is taken.",
    "s415": "Not JSON.",
    "s422": "A value cannot be taken; field says which.",
}
_NOT_THERE = "Nothing of that number in this clinic."


def lists(
    name: str, tag: str, summary: str, item: type, asks: type, description: str = "", **more: str
) -> Any:
    """Describe a list with filters, a part at a time."""
    page = inline_serializer(
        name=f"{item.__name__.removesuffix('Answer')}List",
        fields={
            "results": item(many=True),
            "next": serializers.CharField(
                allow_null=True, help_text="The address of the next part; null at the end."
            ),
        },
    )
    return extend_schema(
        operation_id=name,
        tags=[tag],
        summary=summary,
        description=description or f"{summary}.",
        parameters=[asks],
        responses={
            200: OpenApiResponse(page, description="In the order of their numbers."),
            **errors(s422="A filter cannot be taken; field says which.", **{"s404": _NOT_THERE, **more}),
        },
    )


def looks(
    name: str,
    tag: str,
    summary: str,
    answer: Any,
    description: str = "",
    parameters: Sequence[type] = (),
    **more: str,
) -> Any:
    """Describe looking at one thing."""
    return extend_schema(
        operation_id=name,
        tags=[tag],
        summary=summary,
        description=description or f"{summary}.",
        parameters=[*parameters, _ETAG_ANSWERED],
        responses={
            200: OpenApiResponse(answer, description="As it stands."),
            **errors(**{"s404": _NOT_THERE, **more}),
        },
    )


def creates(
    name: str, tag: str, summary: str, sent: type, answer: Any, description: str = "", **more: str
) -> Any:
    """Describe making a thing, once under its key."""
    return extend_schema(
        operation_id=name,
        tags=[tag],
        summary=summary,
        description=description or f"{summary}.",
        parameters=[KEY_PARAMETER, _ETAG_ANSWERED],
        request=sent,
        responses={
            201: OpenApiResponse(answer, description="Made."),
            200: OpenApiResponse(answer, description="It was made before, under this key."),
            **errors(
                **{
                    **_WITH_BODY,
                    "s404": _NOT_THERE,
                    "s409": "The key came with something else before.",
                    **more,
                }
            ),
        },
    )


def changes(
    name: str, tag: str, summary: str, sent: type, answer: Any, description: str = "", **more: str
) -> Any:
    """Describe changing a thing whose state was read before."""
    return extend_schema(
        operation_id=name,
        tags=[tag],
        summary=summary,
        description=description or f"{summary}.",
        parameters=[IF_MATCH_PARAMETER, _ETAG_ANSWERED],
        request=sent,
        responses={
            200: OpenApiResponse(answer, description="Changed: as it stands now."),
            **errors(
                s412="It was changed since it was read.",
                s428=f"Without {IF_MATCH_HEADER}.",
                **_WITH_BODY,
                **{"s404": _NOT_THERE, **more},
            ),
        },
    )


def with_scopes(result: dict[str, Any], **kwargs: Any) -> dict[str, Any]:
    """Say at each operation which scope opens it, as the role matrix has it, and how long to wait at 429."""
    for path, operations in result["paths"].items():
        address = "".join("1" if part.startswith("{") else part for part in _parts(path))
        rule = rule_for(resolve(address))
        for method, operation in operations.items():
            scopes = scopes_holding(rule.abilities[method.upper()]) if rule else ()
            if scopes:
                wanted = f"Scope: {' or '.join(scopes)}."
                operation["description"] = f"{operation.get('description', '')}\n\n{wanted}".strip()
            for one in operation.get("parameters", []):
                if one["in"] == "path":
                    one.setdefault("description", _of_path(one["name"], path))
            if "429" in operation["responses"]:
                operation["responses"]["429"]["headers"] = {
                    RETRY_HEADER: {"schema": {"type": "integer"}, "description": "Seconds to wait."}
                }
    return result


def _of_path(name: str, path: str) -> str:
    """What a value in an address is: nearly always the number that answers give a thing."""
    called = {"document_id": "report", "number": "job"}.get(name, name.removesuffix("_id"))
    return f"What answers call `{called}`." if "/pieces/" not in path or name != "number" else "From 1."


def _parts(path: str) -> list[str]:
    """A path cut at its places: "/patients/{id}/" is "/patients/", "{id}", "/"."""
    cut = path.replace("{", "\0{").replace("}", "}\0")
    return cut.split("\0")


class _TokenInWords(OpenApiAuthenticationExtension):
    target_class = "access.rest.ByToken"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {
            "type": "http",
            "scheme": "bearer",
            "description": "The token of a device or program. Somebody who works in the clinic makes it, "
            "chooses its scopes, and can revoke it.",
        }
