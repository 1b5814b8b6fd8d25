from django.urls import path

from reports.audit import views

app_name = "audit"

urlpatterns = [
    path("", views.overview, name="overview"),
    path("count/", views.count, name="count"),
    path("measures/", views.definitions, name="definitions"),
    path("quality/", views.quality_page, name="quality"),
    path("quality/<slug:key>/", views.quality_list, name="quality_list"),
    path("choose/", views.choose, name="choose"),
    path("choose/holiday/", views.add_holiday, name="add_holiday"),
    path("rules/", views.set_rules, name="rules"),
    path("reports/", views.reports, name="reports"),
    path("reports/<int:report_id>/pdf/", views.report_pdf, name="report_pdf"),
    path("exports/", views.exports, name="exports"),
    path("exports/rows/", views.ask_for_rows, name="ask_for_rows"),
    path("exports/names/", views.ask_for_names, name="ask_for_names"),
    path("exports/<int:export_id>/", views.export, name="export"),
    path("exports/<int:export_id>/decide/", views.decide, name="decide"),
    path("exports/<int:export_id>/cancel/", views.cancel, name="cancel"),
    path("exports/<int:export_id>/link/", views.link, name="link"),
    path("exports/<int:export_id>/file/", views.take, name="take"),
    path("what-if/", views.try_limit, name="what_if"),
    path("what-if/<int:draft_id>/", views.draft, name="draft"),
    path("what-if/<int:draft_id>/ask/", views.ask_for_approval, name="ask_for_approval"),
    path("what-if/<int:draft_id>/decide/", views.decide_draft, name="decide_draft"),
    path("what-if/<int:draft_id>/file/", views.draft_file, name="draft_file"),
    path("<slug:name>/", views.one, name="measure"),
    path("<slug:name>/compare/", views.compare, name="compare"),
    path("<slug:name>/rows/", views.measure_rows, name="rows"),
    path("<slug:name>/people/", views.people, name="people"),
]
