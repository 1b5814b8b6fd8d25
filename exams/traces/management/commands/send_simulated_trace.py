"""``python manage.py send_simulated_trace``: a bedside gateway that is not there, for the demonstration."""

import json
import time
import urllib.error
import urllib.request
import uuid
from typing import Any

import numpy as np
from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from access import queries, tokens
from access.models import Membership
from access.people import Person, person_for
from access.roles import Role
from exams.hemodynamics import TRACE_FAMILIES, TraceKind, simulate_trace
from exams.patients.models import Side
from exams.visits.models import Exam, Site
from exams.visits.plan import TECHNIQUES, kind_of_site

_NAME = "Simulated gateway"


class Command(BaseCommand):
    help = "Play a simulated recording into an exam as a bedside gateway would send it. Demonstration only."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--exam", type=int, required=True, help="the exam's number, as in its address")
        parser.add_argument("--side", choices=Side.values, required=True)
        parser.add_argument("--site", choices=Site.values, required=True)
        parser.add_argument("--attempt", type=int, choices=(1, 2, 3), default=1)
        parser.add_argument("--systolic", type=float, default=90.0, help="the true pressure, mmHg")
        parser.add_argument("--family", choices=TRACE_FAMILIES, default="clean", help="what is difficult")
        parser.add_argument("--seed", type=int, default=0, help="another seed is another person and hand")
        parser.add_argument("--speed", type=float, default=1.0, help="10 plays ten seconds in one")
        parser.add_argument("--service", default="http://127.0.0.1:8000", help="where the service answers")

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("Simulated recordings are sent to a demonstration only (VASLAB_DEMO=1).")
        if options["speed"] <= 0:
            raise CommandError("--speed must be above 0.")
        exam = Exam.objects.select_related("clinic").filter(pk=options["exam"]).first()
        if exam is None:
            raise CommandError(f"There is no exam {options['exam']}.")
        kind = kind_of_site(options["site"])
        made = simulate_trace(
            family=options["family"],
            seed=options["seed"],
            systolic_mmhg=options["systolic"],
            kind=TraceKind.REFILL if kind == "toe" else TraceKind.PULSATION,
        )
        self._service, self._token = options["service"].rstrip("/"), _token_for(exam)
        place = {name: options[name] for name in ("exam", "side", "site", "attempt")}
        trace = self._ask("POST", "growing/", {**place, "technique": TECHNIQUES[kind][0]})["trace"]
        self.stdout.write(f"Watch it: {self._service}/traces/{trace}/live/")
        seconds = np.floor(made.time_s - made.time_s[0])
        for number, second in enumerate(np.unique(seconds), start=1):
            here = seconds == second
            time.sleep(1 / options["speed"])
            samples = {"time_s": made.time_s, "cuff_mmhg": made.cuff_mmhg, "signal": made.signal}
            piece = {name: _listed(values[here]) for name, values in samples.items()}
            self._ask("PUT", f"{trace}/pieces/{number}/", piece)
            self.stdout.write(f"  piece {number}: {made.cuff_mmhg[here][-1]:.0f} mmHg")
        self._ask("POST", f"{trace}/finish/", {"pieces": number})
        self.stdout.write(f"Finished. The true systolic pressure is {options['systolic']:g} mmHg.")

    def _ask(self, method: str, where: str, content: dict[str, Any]) -> dict[str, Any]:
        request = urllib.request.Request(  # noqa: S310  (its address is typed by whoever starts this)
            f"{self._service}/api/v1/traces/{where}",
            json.dumps(content).encode(),
            {
                "Authorization": f"Bearer {self._token}",
                "Content-Type": "application/json",
                "Idempotency-Key": uuid.uuid4().hex,
            },
            method=method,
        )
        try:
            with urllib.request.urlopen(request, timeout=20) as answer:  # noqa: S310
                said: dict[str, Any] = json.load(answer)
                return said
        except urllib.error.HTTPError as refused:
            said = json.load(refused)
            raise CommandError(f"{said['words']} {said['what_to_do']}") from None
        except OSError as error:
            raise CommandError(
                f"{self._service} does not answer ({error}). Start ./run demo first."
            ) from None


def _listed(values: Any) -> list[float | None]:
    return [round(one, 6) if np.isfinite(one) else None for one in values.tolist()]


def _token_for(exam: Exam) -> str:
    """A token for one day, made as the demonstration's system administrator would make it."""
    administrator = Membership.objects.filter(role=Role.SYSTEM_ADMINISTRATOR, ended_at=None).first()
    if administrator is None:
        raise CommandError("There is no system administrator who could give a gateway its token.")
    by: Person = person_for(administrator.user, exam.clinic_id)
    for one in queries.gateways(by):
        if one.user.full_name == _NAME and one.clinic == exam.clinic:
            return tokens.renew_token(one, days=1, by=by)
    _, token = tokens.add_gateway(name=_NAME, clinic=exam.clinic, days=1, by=by)
    return token
