from django.urls import path

from reports.exchange import views

app_name = "exchange"

urlpatterns = [
    path("", views.tables, name="tables"),
    path("<int:number>/", views.table, name="table"),
    path("<int:number>/sheet/", views.sheet, name="sheet"),
    path("<int:number>/columns/", views.columns, name="columns"),
    path("<int:number>/check/", views.check, name="check"),
    path("<int:number>/mend.<str:kind>", views.error_sheet, name="error_sheet"),
    path("<int:number>/take-in/", views.take_in, name="take_in"),
    path("<int:number>/take-back/", views.take_back, name="take_back"),
]
