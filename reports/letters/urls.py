from django.urls import path

from reports.letters import views

app_name = "letters"

urlpatterns = [
    path("referral/<int:referral_id>/", views.referral, name="referral"),
    path("<int:letter_id>/pdf/", views.pdf, name="pdf"),
    path("<int:letter_id>/again/", views.again, name="again"),
]
