"""Addresses of the access room."""

app_name = "access"
urlpatterns: list = []
