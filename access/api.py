"""What an address for programs is made of: its view, and how it takes, keeps and answers what is sent.

How its operations are described is in ``access.described``, the fields they take in ``access.taken``.
"""

import hashlib
import json
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any, ClassVar, TypeVar, cast
from urllib.parse import urlencode

from django.core.exceptions import ValidationError
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from access.described import ETAG_HEADER, IF_MATCH_HEADER, KEY_HEADER
from access.paging import Part
from access.people import Person
from access.refusals import Overtaken, TooMuch, Unconditional, Unfit
from access.requests import ArrivingRequest
from access.sent_once import once
from access.trail import one_act, record_view

Row = TypeVar("Row", bound=Any)
Shown = Mapping[str, Any]


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

    def taken(self, kind: type[serializers.Serializer]) -> dict[str, Any]:
        """What the body says, checked field by field; refused (422) at the first that will not do."""
        return _checked(kind(data=self.request.data))

    def asked(self, kind: type[serializers.Serializer]) -> dict[str, Any]:
        """What the query of the address asks for, checked in the same way."""
        return _checked(kind(data=self.request.query_params))

    def made_once(
        self, make: Callable[[], Row], find: Callable[[int], Row], sent: Shown | None = None
    ) -> tuple[Row, bool]:
        """The row that ``make`` makes the first time this key comes, and whether it was the first time.

        ``sent``: what the same key must come with again; the body, unless a file is in it.

        Raises
        ------
        Conflict
            If the key came with another body, or to another address, before.
        """
        key = self.idempotency_key()
        content = {"to": self.request.path, "sent": self.request.data if sent is None else sent}
        digest = hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()
        with one_act():
            return once(key=key, content_hash=digest, by=self.person, make=make, find=find)

    def must_match(self, now: Shown) -> None:
        """Refuse a change of something that stands otherwise than where the program last read it.

        Called inside the act that changes it, so that nothing comes between.

        Raises
        ------
        Unconditional
            Without the header: a change made blindly could undo another's.
        Overtaken
            If it was changed since.
        """
        said = self.request.headers.get(IF_MATCH_HEADER, "")
        if not said.strip() or said.strip() == "*":
            raise Unconditional(
                "if_match_wanted",
                "A change must say which state of it was read.",
                f"Read it (GET) and send the answer's {ETAG_HEADER} as {IF_MATCH_HEADER}. “*” is not taken.",
                field=IF_MATCH_HEADER,
            )
        if etag_of(now) not in {one.strip() for one in said.split(",")}:
            raise Overtaken(
                "changed_meanwhile",
                "This was changed since you read it. Nothing of yours was kept.",
                f"Read it again, look at what is new, and send your change with the new {ETAG_HEADER}.",
                field=IF_MATCH_HEADER,
            )

    def note(
        self,
        what: str,
        *,
        patient: Any = None,
        subject: Any = None,
        asked: Mapping[str, Any] | None = None,
        part: Part[Any] | None = None,
    ) -> None:
        """Leave the line of a look; of a list also what was asked and whose numbers were answered."""
        details: dict[str, Any] = {}
        if asked is not None:
            details["asked"] = {
                name: value for name, value in asked.items() if name not in ("after", "limit")
            }
        if part is not None:
            details["rows"] = part.numbers
        record_view(self.person, what, patient, subject, details)

    def answer(self, shown: Shown, status: int = 200) -> Response:
        """One thing, with the mark of its state."""
        return Response(shown, status=status, headers={ETAG_HEADER: etag_of(shown)})

    def answer_part(self, part: Part[Any], show: Callable[[Any], Shown]) -> Response:
        """A part of a list, and where it goes on."""
        following = None
        if part.next_after is not None:
            asked = {**self.request.query_params.dict(), "after": part.next_after}
            following = f"{self.request.path}?{urlencode(asked)}"
        return Response({"results": [show(row) for row in part.rows], "next": following})


@contextmanager
def at_fields(**sent_as: str) -> Iterator[None]:
    """Let a service refuse a value at the field in which the program sent it, not as a page calls it:
    ``at_fields(place="region")``."""
    try:
        yield
    except ValidationError as refused:
        if not hasattr(refused, "error_dict"):
            raise
        named = {sent_as.get(name, name): found for name, found in refused.error_dict.items()}
        raise ValidationError(named) from None


def etag_of(shown: Shown) -> str:
    """The mark of a state: another as soon as anything that is answered is another."""
    text = json.dumps(shown, sort_keys=True, default=str)
    return f'"{hashlib.sha256(text.encode()).hexdigest()[:32]}"'


def _checked(sent: serializers.Serializer) -> dict[str, Any]:
    sent.is_valid(raise_exception=True)
    return dict(sent.validated_data)
