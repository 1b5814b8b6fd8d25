"""The clinics open and the staff get their roles, each granted by one person and approved by another."""

from access.models import User
from access.people import person_for
from access.services import (
    add_clinic,
    add_member,
    approve_role,
    create_first_administrator,
    grant_role,
    set_password_by_link,
)
from vaslab.demo.staff import CLINICS, PASSWORD, STAFF


def hire() -> dict[str, User]:
    """Two people stand behind every clinical role: the system administrator grants, the clinic's approves."""
    system = next(one for one in STAFF if one.roles[0][0] == "system_administrator")
    first = create_first_administrator(email=system.email, full_name=system.name, password=PASSWORD)
    by = person_for(first)
    clinics = {
        name: add_clinic(
            name=name,
            address=address,
            phone="01555 010 000",
            time_zone="Europe/London",
            toes_first=False,
            by=by,
        )
        for name, address in CLINICS.items()
    }
    cast = {system.email: first}
    granted = []
    for one in STAFF:
        if one is system:
            continue
        user, token = add_member(email=one.email, full_name=one.name, by=by)
        set_password_by_link(token=token, password=PASSWORD)
        cast[one.email] = user
        granted += [grant_role(user=user, clinic=clinics[str(c)], role=role, by=by) for role, c in one.roles]
    lode = next(one for one in STAFF if one.roles[0][0] == "administrator")
    for membership in granted:
        if not membership.in_force:
            clinic = membership.clinic
            approve_role(
                membership=membership, by=person_for(cast[lode.email], clinic.pk if clinic else None)
            )
    return cast
