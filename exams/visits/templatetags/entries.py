"""The parts of the exam sheet that come by the dozen, drawn without the template engine."""

from django import template

from exams.visits.drawn_fields import entry_html, group_html
from exams.visits.drawn_findings import findings_html
from exams.visits.drawn_ladder import ladder_svg

register = template.Library()
register.simple_tag(entry_html, name="entry")
register.simple_tag(group_html, name="group")
register.simple_tag(findings_html, name="findings")
register.simple_tag(ladder_svg, name="ladder")
