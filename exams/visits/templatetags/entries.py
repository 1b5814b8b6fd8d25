"""The parts of the exam sheet that come by the dozen, drawn without the template engine."""

from django import template

from exams.visits.drawn_fields import conditions_html, groups_html, reasons_html
from exams.visits.drawn_findings import findings_html
from exams.visits.drawn_ladder import ladder_svg, ladder_table
from exams.visits.drawn_lists import booked_rows, unreported_rows

register = template.Library()
register.simple_tag(conditions_html, name="conditions")
register.simple_tag(groups_html, name="groups")
register.simple_tag(reasons_html, name="reasons")
register.simple_tag(findings_html, name="findings")
register.simple_tag(booked_rows)
register.simple_tag(unreported_rows)
register.simple_tag(ladder_svg, name="ladder")
register.simple_tag(ladder_table, name="ladder_table")
