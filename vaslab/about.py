"""The page that says what vaslab is for, what it is not for, and which version and criteria run here."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from exams.hemodynamics import criteria_names, load_criteria


def about(request: HttpRequest) -> HttpResponse:
    criteria = [load_criteria(name) for name in criteria_names()]
    return render(request, "vaslab/about.html", {"criteria": criteria})
