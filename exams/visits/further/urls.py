"""The addresses of further tests, below an exam. A category has its own: other people enter it."""

from django.urls import path

from exams.visits.further import views

urlpatterns = [
    path("", views.more_tests, name="more_tests"),
    path("part/", views.more_tests_part, name="more_tests_part"),
    path("category/", views.one_test, name="category"),
    path("category/save/", views.save, name="category_save"),
    path("category/correct/<str:field>/", views.correct, name="category_correct"),
    path("<slug:test>/", views.one_test, name="further"),
    path("<slug:test>/save/", views.save, name="further_save"),
    path("<slug:test>/correct/<str:field>/", views.correct, name="further_correct"),
]
