"""What changes a table that comes in: each a verb, one act, with its line in the trail."""

from reports.exchange.services.checking import check_table
from reports.exchange.services.columns import ask_for_check, name_columns, save_template
from reports.exchange.services.importing import ask_to_take_in, take_in
from reports.exchange.services.readying import get_ready
from reports.exchange.services.receiving import read_differently, receive_table
from reports.exchange.services.taking_back import ask_to_take_back, take_back

__all__ = [
    "ask_for_check",
    "ask_to_take_back",
    "ask_to_take_in",
    "check_table",
    "get_ready",
    "name_columns",
    "read_differently",
    "receive_table",
    "save_template",
    "take_back",
    "take_in",
]
