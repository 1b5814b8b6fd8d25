"""A request as the middleware of this room leaves it."""

from django.http import HttpRequest

from access.people import Person


class ArrivingRequest(HttpRequest):
    """On its way through the middleware: perhaps nobody is signed in."""

    person: Person | None
    sign_in_ended: Person | None
    locked: Person | None
    idle_minutes: float
    request_id: str


class Request(HttpRequest):
    """In the view of a page that needs somebody signed in: the role matrix has seen to that."""

    person: Person
    request_id: str
