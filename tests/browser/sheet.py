"""An exam sheet in the browser, and the fingers that type into it."""

from datetime import timedelta

from access import clock
from exams.visits import services
from exams.visits.models import Exam, Reading
from exams.visits.wording import plain


def lie_down(exam: Exam, by) -> Exam:
    """Everything asked before the first cuff is answered; the person has lain flat for eleven minutes."""
    with clock.at(clock.now() - timedelta(minutes=11)):
        services.confirm_identity(exam=exam, how="stated", by=by)
        services.set_indication(exam=exam, indication="foot_ulcer", by=by)
        services.confirm_cautions(exam=exam, by=by)
        services.lie_flat(exam=exam, by=by)
    exam.refresh_from_db()
    return exam


class Hands:
    """Fingers on a number pad: every key they press is counted."""

    def __init__(self, page):
        self.page = page
        self.strokes = 0

    def enter(self, *typed: str):
        """Type each text and press Enter after it."""
        for text in typed:
            self.page.keyboard.type(text)
            self.page.keyboard.press("Enter")
            self.strokes += len(text) + 1


def box(page, name: str):
    return page.locator(f'[data-field="{name}"]')


def typed(page, name: str):
    return page.locator(f'[id="{name}"]')


def said(page, name: str, part: str = "state"):
    return box(page, name).locator(f'[data-part="{part}"]')


def type_into(page, name: str, text: str):
    typed(page, name).focus()
    Hands(page).enter(text)


def standing(exam: Exam) -> dict[str, str]:
    """What is stored: place to pressure, the newest row of each."""
    rows = Reading.objects.filter(exam=exam, replaced_by=None, withdrawn=False)
    return {f"{row.side}.{row.site}.{row.attempt}": plain(row.pressure_mmhg) for row in rows}
