"""What changes the audit: a count, a choice, a report, a file that leaves the house."""

from reports.audit.services.counting import COUNT, ask_count, count_year, new_count

__all__ = ["COUNT", "ask_count", "count_year", "new_count"]
