"""The person who acts: who they are, for which clinic, in which roles."""

from collections.abc import Iterable
from dataclasses import dataclass

from access.matrix import abilities_within
from access.models import AccessToken, Clinic, Membership, User
from access.roles import Role


@dataclass(frozen=True)
class Person:
    """A signed-in member of staff, acting in one clinic (or in none) with the roles held there.

    Or a program: ``within`` are the abilities its scopes hold, None for whoever is not kept within any, and
    ``acts_for`` is the person who lent them.
    """

    user: User
    clinic: Clinic | None
    roles: frozenset[str]
    within: frozenset[str] | None = None
    acts_for: "Person | None" = None

    @property
    def name(self) -> str:
        return self.user.full_name

    def __str__(self) -> str:
        return self.name


def person_for(user: User, clinic_id: int | None = None) -> Person:
    """Who ``user`` is when acting in the clinic numbered ``clinic_id``.

    Without a number, or with one where they hold no role, they act in their first clinic by name. A system
    administrator may act in any clinic, with that role alone unless they hold others there. A program acts
    in the clinic of its token, with the roles that the token's maker holds there now.
    """
    if not user.signs_in and (token := scoped_token_of(user)) is not None:
        return _as_its_maker(user, token)
    held = list(
        Membership.objects.filter(user=user, ended_at=None, approved_at__isnull=False)
        .select_related("clinic")
        .order_by("clinic__name")
    )
    clinic = _clinic_acted_in(held, clinic_id)
    here = [one.role for one in held if one.clinic_id is None or (clinic and one.clinic_id == clinic.pk)]
    return Person(user=user, clinic=clinic, roles=frozenset(here))


def scoped_token_of(user: User) -> AccessToken | None:
    """The newest token of a program that has scopes; None for a bedside gateway."""
    tokens = AccessToken.objects.filter(user=user).exclude(scopes="").select_related("clinic", "made_by")
    return tokens.order_by("-pk").first()


def _as_its_maker(user: User, token: AccessToken) -> Person:
    maker = person_for(token.made_by, token.clinic_id)
    lends = token.in_force and maker.user.is_active and maker.clinic == token.clinic
    return Person(
        user=user,
        clinic=token.clinic,
        roles=maker.roles if lends else frozenset(),
        within=abilities_within(token.scopes.split()),
        acts_for=maker,
    )


def _clinic_acted_in(held: Iterable[Membership], clinic_id: int | None) -> Clinic | None:
    own = {one.clinic_id: one.clinic for one in held if one.clinic is not None}
    if clinic_id in own:
        return own[clinic_id]
    if any(one.role == Role.SYSTEM_ADMINISTRATOR for one in held):
        chosen = Clinic.objects.filter(pk=clinic_id).first() if clinic_id else None
        if chosen:
            return chosen
        return next(iter(own.values()), None) or Clinic.objects.order_by("name").first()
    return next(iter(own.values()), None)
