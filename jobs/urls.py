from django.urls import path

from jobs import views

app_name = "jobs"

urlpatterns = [
    path("", views.jobs, name="list"),
    path("<int:number>/", views.state, name="state"),
    path("<int:number>/again/", views.try_again, name="try_again"),
]
