"""What is known about the act in hand beside the person: where the request came from, the role acted in."""

from contextvars import ContextVar
from dataclasses import dataclass


@dataclass(frozen=True)
class Origin:
    """Where an act came from: the request's number and the network address. Empty outside a request."""

    request_id: str = ""
    address: str = ""


_origin: ContextVar[Origin | None] = ContextVar("origin of the act", default=None)
_role: ContextVar[tuple[int, str] | None] = ContextVar("role acted in", default=None)


def origin() -> Origin:
    return _origin.get() or Origin()


def begin_request(came_from: Origin) -> None:
    _origin.set(came_from)
    _role.set(None)


def end_request() -> None:
    _origin.set(None)
    _role.set(None)


def note_role(user_id: int, role: str) -> None:
    """Remember in which role this user was last allowed to act, for the trail."""
    _role.set((user_id, role))


def role_noted_for(user_id: int) -> str | None:
    noted = _role.get()
    return noted[1] if noted and noted[0] == user_id else None
