"""The addresses of this room for programs, below api/v1/traces/."""

from django.urls import path

from exams.traces import api

app_name = "traces_api"
urlpatterns = [
    path("", api.Traces.as_view(), name="send"),
    path("<int:trace_id>/", api.OneTrace.as_view(), name="trace"),
    path("growing/", api.Growing.as_view(), name="begin"),
    path("<int:trace_id>/pieces/<int:number>/", api.Piece.as_view(), name="piece"),
    path("<int:trace_id>/finish/", api.Finish.as_view(), name="finish"),
]
