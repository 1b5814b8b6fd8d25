"""Example objects of the access room for the walk through every page."""

from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import TOTP

from access import services
from access.models import Membership, User
from access.roles import Role

_SYSTEM_ADMINISTRATOR = {"system_administrator"}

# The staff pages are about people and roles of the whole service.
SERVES_ALL = dict.fromkeys(
    (
        "access:member",
        "access:grant_role",
        "access:disable_member",
        "access:enable_member",
        "access:end_sign_ins",
        "access:reset_second_factor",
        "access:new_link",
        "access:end_role",
        "access:approve_role",
        "access:refuse_role",
        "access:new_token",
        "access:revoke_token",
        "access:program_token",
        "access:revoke_program",
    ),
    _SYSTEM_ADMINISTRATOR,
)


def examples(cast):
    for one in cast.everyone():
        if not one.user.signs_in:
            continue
        TOTP.activate(one.user, "JBSWY3DPEHPK3PXP")
        RecoveryCodes.activate(one.user)
    newcomer, token = services.add_member(
        email=f"newcomer.{cast.clinic.pk}@fenmarsh.example",
        full_name="Nell Newcomer",
        by=cast.system_administrator,
    )
    granting = User.objects.create_user(
        email=f"grants.{cast.clinic.pk}@fenmarsh.example", full_name="Gil Grantwell"
    )
    waiting = Membership.objects.create(
        user=newcomer, clinic=cast.clinic, role=Role.MEASURER, granted_by=granting
    )
    about_a_person = {"user_id": newcomer.pk}
    about_a_gateway = {"user_id": cast.gateway.user.pk}
    about_a_program = {"user_id": cast.programs[0].user.pk}
    about_a_role = {"membership_id": waiting.pk}
    return {
        "access:first_password": {"token": token},
        "access:member": about_a_person,
        "access:grant_role": about_a_person,
        "access:disable_member": about_a_person,
        "access:enable_member": about_a_person,
        "access:end_sign_ins": about_a_person,
        "access:reset_second_factor": about_a_person,
        "access:new_link": about_a_person,
        "access:new_token": about_a_gateway,
        "access:revoke_token": about_a_gateway,
        "access:program_token": about_a_program,
        "access:revoke_program": about_a_program,
        "access:end_role": about_a_role,
        "access:approve_role": about_a_role,
        "access:refuse_role": about_a_role,
        # The sign-in library's closed pages: shut to everyone, so any value will do.
        "mfa_edit_webauthn": {"pk": "1"},
        "mfa_remove_webauthn": {"pk": "1"},
        "account_confirm_email": {"key": "none"},
        "account_reset_password_from_key": {"uidb36": "0", "key": "none"},
    }
