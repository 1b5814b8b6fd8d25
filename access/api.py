"""What an address for programs is made of: its view, its key, and how its errors are described."""

import re
from typing import Any, ClassVar, cast

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse
from rest_framework import exceptions, serializers
from rest_framework.request import Request
from rest_framework.views import APIView

from access.people import Person
from access.refusals import TooMuch, Unfit
from access.requests import ArrivingRequest


class Api(APIView):
    """An address for programs. ``most_bytes``: how large the body of a request may be."""

    most_bytes: ClassVar[int] = 64 * 1024

    @property
    def person(self) -> Person:
        return cast(Person, cast(ArrivingRequest, self.request._request).person)

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Before anything of the body is read."""
        super().initial(request, *args, **kwargs)
        length = request.META.get("CONTENT_LENGTH") or "0"
        if int(length) > self.most_bytes:
            raise TooMuch(
                "body_too_large",
                f"This address takes at most {self.most_bytes} bytes at once.",
                "Send less at once: in pieces, or at a lower sampling rate.",
            )

    def idempotency_key(self) -> str:
        """The program's own name for what it sends."""
        key = self.request.headers.get(KEY_HEADER, "")
        if not re.fullmatch(r"[!-~]{8,60}", key):
            raise Unfit(
                "key_wanted",
                "Each thing sent needs a name of its own, so that sending it again never doubles it.",
                f"Send the header {KEY_HEADER}: 8 to 60 letters and digits, never the same for two things.",
                field=KEY_HEADER,
            )
        return key


KEY_HEADER = "Idempotency-Key"

KEY_PARAMETER = OpenApiParameter(
    name=KEY_HEADER,
    location=OpenApiParameter.HEADER,
    required=True,
    type={"type": "string", "pattern": "^[!-~]{8,60}$"},
    description="The sender's own name for what it sends, never used twice. The same key with the same "
    "content is answered with what it made before (200); with other content it is refused (409).",
)


class Strict(serializers.Serializer):
    """Refuses a name it does not know: a misspelt one would otherwise be lost without a word."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, dict):
            unknown = [name for name in data if name not in self.fields]
            if unknown:
                known = ", ".join(self.fields)
                raise exceptions.ValidationError(
                    {unknown[0]: f"This name is not known here. Known are: {known}."}, code="unknown_name"
                )
        return super().to_internal_value(data)


class ErrorAnswer(serializers.Serializer):
    """What every error answer looks like."""

    code = serializers.CharField(help_text="Stable; for the program.")
    field = serializers.CharField(
        allow_blank=True, help_text="The part of what was sent that is meant; empty for the whole."
    )
    words = serializers.CharField(help_text="What is wrong, for a person.")
    what_to_do = serializers.CharField(help_text="The next step, for a person.")


def errors(**more: str) -> dict[int, OpenApiResponse]:
    """The error answers of an operation for its description: those every one has, and ``more`` by status
    (``s409="This exam …"``)."""
    always = {
        "s400": "The request cannot be read.",
        "s401": "No token, or none that is in force.",
        "s403": "The token may not do that.",
        "s429": "Too many requests without a token in force, from here.",
        "s500": "A failure of ours; nothing was kept halfway.",
    }
    return {
        int(status[1:]): OpenApiResponse(ErrorAnswer, description=words)
        for status, words in sorted({**always, **more}.items())
    }


class _TokenInWords(OpenApiAuthenticationExtension):
    target_class = "access.rest.ByToken"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {
            "type": "http",
            "scheme": "bearer",
            "description": "The token of a device, which a system administrator makes and can revoke.",
        }
