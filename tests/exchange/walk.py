"""Example objects of the exchange room for the walk through every page."""

from jobs.services import run
from reports.exchange import services
from tests.exchange.make import ROW, as_csv, checked, row


def examples(cast):
    by = cast.measurer
    # One that waits with a row to mend, and one that was taken in.
    waiting = checked(by, as_csv(ROW, row(Hosp_No="OLD-2", R_toe="brisk")))
    batch = checked(by, as_csv(row(Hosp_No="OLD-3", Surname="Bramble", DOB="4 Apr 1961")))
    job = services.ask_to_take_in(batch=batch, agree_new_people=True, leave_out_refused=True, by=by)
    run(job.pk)
    about = {"number": waiting.pk}
    return {
        "exchange:table": about,
        "exchange:sheet": about,
        "exchange:columns": about,
        "exchange:check": about,
        "exchange:take_in": about,
        "exchange:take_back": {"number": batch.pk},
        "exchange:error_sheet": {"number": waiting.pk, "kind": "csv"},
    }
