"""What base.html needs on every page: the rooms this person may enter, the version, the demo's mark."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse

from access.permissions import allowed

# Label, URL name, ability. The order is the order on the screen.
ROOMS = (
    ("Today", "today", "see today"),
    ("Patients", "patients:list", "find patients"),
    ("Referrals", "followup:referrals", "see patient"),
    ("Recall list", "followup:recall_list", "see patient"),
    ("Trace desk", "traces:waiting", "mark traces"),
    ("Reports", "documents:list", "see report"),
    ("Audit statistics", "audit:overview", "see audit"),
    ("Data quality", "audit:quality", "mend records"),
    ("Diagnostic criteria", "visits:criteria", "adopt criteria"),
    ("Own noise", "visits:noise", "see own noise"),
    ("Tables in", "exchange:tables", "import tables"),
    ("Jobs", "jobs:list", "see jobs"),
    ("Staff", "access:staff", "manage staff"),
    ("Clinic", "access:clinic", "manage clinic"),
    ("Audit trail", "access:trail", "check trail"),
)

# The pages that hang under one of several doors of their room.
_UNDER = {
    "access:staff": (
        "access:add_member",
        "access:member",
        "access:grant_role",
        "access:approvals",
        "access:add_clinic",
        "access:gateways",
        "access:add_gateway",
        "access:new_token",
        "access:revoke_token",
    ),
    "access:trail": ("access:verify_trail",),
    "followup:referrals": ("followup:referral", "followup:refer_step", "followup:answer"),
    "followup:recall_list": ("followup:recall", "followup:contact", "followup:seen", "followup:end_recall"),
}


def page(request: HttpRequest) -> dict[str, Any]:
    """The variable ``page``: nav (label, url, current), demo, version."""
    return {
        "page": {
            "nav": _nav(request),
            "demo": settings.DEMO,
            "version": settings.VERSION,
        }
    }


def _nav(request: HttpRequest) -> list[dict[str, Any]]:
    person = getattr(request, "person", None)
    if person is None:
        return []
    here = request.resolver_match.view_name if request.resolver_match else ""
    return [
        {"label": label, "url": reverse(name), "current": _same_room(name, here)}
        for label, name, ability in ROOMS
        if allowed(person, ability)
    ]


def _same_room(name: str, here: str) -> bool:
    if name.startswith("followup:"):
        return here == name or here in _UNDER[name]
    if name == "patients:list" and here.startswith(
        ("timeline:", "identity:", "wounds:", "visits:sheet", "visits:hand_over")
    ):
        return True
    if name.startswith("audit:"):
        quality = here in ("audit:quality", "audit:quality_list")
        return here.startswith("audit:") and quality == (name == "audit:quality")
    if name.startswith(("access:", "visits:")):
        return here == name or here in _UNDER.get(name, ())
    return here == name if ":" not in name else here.split(":")[0] == name.split(":")[0]
