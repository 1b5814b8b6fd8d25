"""What changes the audit: a count, a choice, a report, a file that leaves the house."""

from reports.audit.services.choices import add_holiday, choose_measures, set_rules
from reports.audit.services.counting import COUNT, ask_count, count_year, new_count
from reports.audit.services.drafts import (
    TRY,
    ask_for_approval,
    decide_draft,
    draft_criteria,
    open_draft,
    try_draft,
)
from reports.audit.services.exports import (
    WRITE,
    ask_for_rows,
    cancel,
    clear_away_everywhere,
    decide,
    export_sums_of,
    make_link,
    take,
    write_export,
)
from reports.audit.services.quarters import PRINT, make_quarter, open_quarter, render_quarter

__all__ = [
    "COUNT",
    "PRINT",
    "TRY",
    "WRITE",
    "add_holiday",
    "ask_count",
    "ask_for_approval",
    "ask_for_rows",
    "cancel",
    "choose_measures",
    "clear_away_everywhere",
    "count_year",
    "decide",
    "decide_draft",
    "draft_criteria",
    "export_sums_of",
    "make_link",
    "make_quarter",
    "new_count",
    "open_draft",
    "open_quarter",
    "render_quarter",
    "set_rules",
    "take",
    "try_draft",
    "write_export",
]
