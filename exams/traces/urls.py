"""The addresses of this room, below traces/."""

from django.urls import path

from exams.traces.views import desk, exam, live

app_name = "traces"

urlpatterns = [
    path("waiting/", desk.waiting, name="waiting"),
    path("exam/<int:exam_id>/", exam.exam, name="exam"),
    path("exam/<int:exam_id>/part/", exam.exam_part, name="exam_part"),
    path("exam/<int:exam_id>/match/", exam.match, name="match"),
    path("reading/<int:reading_id>/", desk.of_reading, name="of_reading"),
    path("<int:trace_id>/", desk.desk, name="desk"),
    path("<int:trace_id>/blind/", desk.blind, name="blind"),
    path("<int:trace_id>/window/", desk.window, name="window"),
    path("<int:trace_id>/thumbnail.svg", desk.thumbnail, name="thumbnail"),
    path("<int:trace_id>/columns/", exam.columns, name="columns"),
    path("<int:trace_id>/withdraw/", exam.withdraw, name="withdraw"),
    path("<int:trace_id>/original/", exam.original, name="original"),
    path("<int:trace_id>/live/", live.live, name="live"),
    path("<int:trace_id>/live/part/", live.live_part, name="live_part"),
]
