"""Why what a program sent is not done, in words for whoever minds the device."""

from typing import TYPE_CHECKING

from django.http import HttpResponse, JsonResponse

from access.matrix import scopes_holding

if TYPE_CHECKING:
    from access.people import Person


class Refusal(Exception):
    """The request is not done.

    Parameters
    ----------
    code : stable, for the program.
    words : what is wrong.
    what_to_do : the next step.
    field : which part of what was sent is meant; empty for the whole.
    """

    status = 400

    def __init__(self, code: str, words: str, what_to_do: str, field: str = "") -> None:
        super().__init__(words)
        self.code, self.field, self.words, self.what_to_do = code, field, words, what_to_do


class Unfit(Refusal):
    """A value in it cannot be taken."""

    status = 422


class Conflict(Refusal):
    """It is whole, but does not fit what stands."""

    status = 409


class Overtaken(Refusal):
    """What it would change was changed by somebody else since it was read."""

    status = 412


class TooMuch(Refusal):
    """It is larger than is taken."""

    status = 413


class Unconditional(Refusal):
    """It would change something without saying which state of it was read."""

    status = 428


def said(code: str, words: str, what_to_do: str, field: str = "") -> dict[str, str]:
    """The one shape of every error answer to a program."""
    return {"code": code, "field": field, "words": words, "what_to_do": what_to_do}


def refused_answer(
    status: int, code: str, words: str, what_to_do: str, headers: dict[str, str] | None = None
) -> HttpResponse:
    """The answer to a program, where there is no view to give it."""
    return JsonResponse(said(code, words, what_to_do), status=status, headers=headers or {})


_OF_STATUS = {
    400: ("bad_request", "This request cannot be read.", "Compare it with the description of the interface."),
    403: ("not_allowed", "This token may not do that.", "Ask your system administrator."),
    404: (
        "not_found",
        "There is nothing under this address in this clinic.",
        "Check the address and the numbers in it.",
    ),
    500: (
        "failed",
        "Something went wrong on our side. Nothing was kept halfway.",
        "Send the same again, with the same key. If it fails again, tell your system administrator.",
    ),
}


def said_of(status: int) -> dict[str, str]:
    """What a program is told where a person is shown one of the site's error pages."""
    return said(*_OF_STATUS[status])


def said_of_ability(person: "Person | None", ability: str) -> dict[str, str]:
    """What a program is told that may not do something: which scope its token lacks, or whose right."""
    scopes = scopes_holding(ability)
    if person is None or person.within is None or not scopes:
        return said_of(403)
    if ability in person.within:
        return said(
            "person_may_not",
            f"The person this token acts for may not do that here: it needs the right “{ability}”.",
            "Ask somebody who may to make a token, or leave this out.",
        )
    lacking = " or ".join(scopes)
    return said(
        "scope_missing",
        f"This token was made without the scope {lacking}.",
        f"Ask the person it acts for to make one with {lacking}, or leave this out.",
    )


def error_page_answer(status: int) -> HttpResponse:
    return JsonResponse(said_of(status), status=status)
