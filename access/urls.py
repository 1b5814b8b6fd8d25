"""Addresses of the access room."""

from django.urls import path

from access import staff_views, token_views, trail_views, views

app_name = "access"
urlpatterns = [
    path("account/", views.account, name="account"),
    path("account/sign-ins/", views.sign_ins, name="sign_ins"),
    path("account/passkeys/remove/", views.remove_passkey, name="remove_passkey"),
    path("clinic/choose/", views.switch_clinic, name="switch_clinic"),
    path("lock/", views.lock, name="lock"),
    path("unlock/", views.unlock, name="unlock"),
    path("still-here/", views.still_here, name="still_here"),
    path("queue-key/", views.queue_key, name="queue_key"),
    path("first-password/<str:token>/", views.first_password, name="first_password"),
    path("staff/", staff_views.staff, name="staff"),
    path("staff/add/", staff_views.add_member, name="add_member"),
    path("staff/<int:user_id>/", staff_views.member, name="member"),
    path("staff/<int:user_id>/roles/", staff_views.grant_role, name="grant_role"),
    path("staff/<int:user_id>/disable/", staff_views.disable_member, name="disable_member"),
    path("staff/<int:user_id>/enable/", staff_views.enable_member, name="enable_member"),
    path("staff/<int:user_id>/sign-ins/", staff_views.end_sign_ins, name="end_sign_ins"),
    path("staff/<int:user_id>/second-factor/", staff_views.reset_second_factor, name="reset_second_factor"),
    path("staff/<int:user_id>/link/", staff_views.new_link, name="new_link"),
    path("roles/<int:membership_id>/end/", staff_views.end_role, name="end_role"),
    path("roles/waiting/", staff_views.approvals, name="approvals"),
    path("roles/<int:membership_id>/approve/", staff_views.approve_role, name="approve_role"),
    path("roles/<int:membership_id>/refuse/", staff_views.refuse_role, name="refuse_role"),
    path("clinic/", staff_views.clinic, name="clinic"),
    path("clinic/add/", staff_views.add_clinic, name="add_clinic"),
    path("gateways/", token_views.gateways, name="gateways"),
    path("gateways/add/", token_views.add_gateway, name="add_gateway"),
    path("gateways/<int:user_id>/token/", token_views.new_token, name="new_token"),
    path("gateways/<int:user_id>/revoke/", token_views.revoke_token, name="revoke_token"),
    path("programs/", token_views.programs, name="programs"),
    path("programs/add/", token_views.add_program, name="add_program"),
    path("programs/<int:user_id>/token/", token_views.program_token, name="program_token"),
    path("programs/<int:user_id>/revoke/", token_views.revoke_program, name="revoke_program"),
    path("trail/", trail_views.trail, name="trail"),
    path("trail/verify/", trail_views.verify_trail, name="verify_trail"),
]
