"""May this person do that, here? Every service and every page asks."""

from typing import TYPE_CHECKING, Any

from django.core.exceptions import PermissionDenied
from django.http import Http404

from access import acting
from access.matrix import NOBODY, PUBLIC, SIGNED_IN, roles_granting
from access.models import Clinic

if TYPE_CHECKING:
    from access.people import Person

# How a thing leads to the clinic that holds it, tried in this order.
_WAYS_TO_A_CLINIC = ("patient", "exam", "reading", "episode", "document")


class NotAble(PermissionDenied):
    """No role of the person grants the ability, or the program they lent theirs to has no scope with it."""

    def __init__(self, ability: str) -> None:
        super().__init__(f"needs the ability “{ability}”")
        self.ability = ability


class NotHere(Http404):
    """The thing belongs to another clinic. Answered as "not found", so that nothing is given away."""


def require(by: "Person | None", ability: str, subject: Any = None) -> str:
    """The role in which ``by`` may do ``ability`` to ``subject``.

    Parameters
    ----------
    by : the person acting, or None if nobody is signed in.
    ability : a name from ``access/roles.toml``.
    subject : anything with ``clinic_id``, or that leads to it by its patient or exam. Left out where the
        ability is not about one thing.

    Raises
    ------
    NotAble
        If none of the person's roles grants the ability.
    NotHere
        If the subject belongs to another clinic.
    """
    role = _granting_role(by, ability)
    if by is None or role is None:
        raise NotAble(ability)
    if subject is not None:
        here = by.clinic.pk if by.clinic else None
        if clinic_id_of(subject) != here:
            raise NotHere("held by another clinic")
    acting.note_role(by.user.pk, role)
    return role


def allowed(by: "Person | None", ability: str) -> bool:
    """Whether ``by`` holds a role that grants ``ability``; for templates and lists."""
    return _granting_role(by, ability) is not None


def passes_url(by: "Person | None", ability: str) -> bool:
    """Whether a page that needs ``ability`` opens for ``by``; knows the special abilities too."""
    if ability == PUBLIC:
        return True
    if ability == NOBODY or by is None:
        return False
    if ability == SIGNED_IN:
        return by.user.signs_in  # a device acts without signing in
    return allowed(by, ability)


def clinic_id_of(subject: Any) -> int:
    """The number of the clinic that holds ``subject``.

    Raises
    ------
    TypeError
        If nothing leads from the subject to a clinic: guessing would open another clinic's record.
    """
    if isinstance(subject, Clinic):
        return subject.pk
    if hasattr(subject, "clinic_id"):
        return int(subject.clinic_id)
    for way in _WAYS_TO_A_CLINIC:
        nearer = getattr(subject, way, None)
        if nearer is not None:
            return clinic_id_of(nearer)
    raise TypeError(f"Nothing leads from a {type(subject).__name__} to the clinic that holds it.")


def _granting_role(by: "Person | None", ability: str) -> str | None:
    granting = roles_granting(ability)
    if by is None or not by.user.is_active or (by.within is not None and ability not in by.within):
        return None
    return next((role for role in granting if role in by.roles), None)
