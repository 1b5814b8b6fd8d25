"""The addresses of this room, below exams/."""

from django.urls import include, path

from exams.visits import views
from exams.visits.agreement import views as agreement

app_name = "visits"

urlpatterns = [
    path("book/<int:patient_id>/", views.book, name="book"),
    path("criteria/", views.criteria, name="criteria"),
    path("noise/", agreement.noise, name="noise"),
    path("hand-over/<int:hand_over_id>/", views.hand_over, name="hand_over"),
    path("hand-over/<int:hand_over_id>/attempt/", views.hand_over_attempt, name="hand_over_attempt"),
    path("hand-over/<int:hand_over_id>/error/", views.hand_over_error, name="hand_over_error"),
    path("<int:exam_id>/", views.sheet, name="sheet"),
    path("<int:exam_id>/step/", views.step, name="step"),
    path("<int:exam_id>/save/", views.save, name="save"),
    path("<int:exam_id>/correct/<int:reading_id>/", views.correct, name="correct"),
    path("<int:exam_id>/correct/<slug:item>/", views.correct_condition, name="correct_condition"),
    path("<int:exam_id>/more-tests/", include("exams.visits.further.urls")),
    path("<int:exam_id>/agreement/", agreement.repeat, name="agreement"),
    path("<int:exam_id>/agreement/withdraw/", agreement.withdraw, name="agreement_withdraw"),
    path("<int:exam_id>/compare/", views.compare, name="compare"),
]
