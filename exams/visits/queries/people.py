"""Staff who may have told someone of a result."""

from access.matrix import roles_granting
from access.models import Membership, User
from access.people import Person


def tellers(person: Person) -> list[User]:
    """Everyone in the person's clinic who may hand over a result, and the person; by name. One query."""
    holding = Membership.objects.filter(
        clinic=person.clinic,
        role__in=roles_granting("hand over"),
        ended_at=None,
        approved_at__isnull=False,
        user__is_active=True,
    ).select_related("user")
    found = {one.user_id: one.user for one in holding} | {person.user.pk: person.user}
    return sorted(found.values(), key=lambda user: (user.full_name, user.pk))
