"""Addresses of pages that go wrong, for the tests of what is left behind then."""

from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.urls import include, path

from access.models import Clinic
from access.permissions import NotHere
from access.trail import one_act, record


def refuse(request, patient_id):
    raise PermissionDenied


def not_here(request, patient_id):
    raise NotHere


def not_found(request, patient_id):
    raise Http404


@one_act()
def fail(request, patient_id):
    Clinic.objects.create(name="Mill Lane")
    record(request.person, "clinic added")
    raise RuntimeError("Agatha Fenwright, born 1 Jan 1950, has no pulse")


urlpatterns = [
    path("refuse/<int:patient_id>/", refuse, name="refuse"),
    path("not-here/<int:patient_id>/", not_here, name="not_here"),
    path("not-found/<int:patient_id>/", not_found, name="not_found"),
    path("fail/<int:patient_id>/", fail, name="fail"),
    path("accounts/", include("allauth.urls")),
]
handler403 = "vaslab.errors.refused"
handler404 = "vaslab.errors.not_found"
handler500 = "vaslab.errors.failed"
