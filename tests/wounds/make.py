"""Wounds for tests, made through the services as a nurse would make them."""

import io
from datetime import date, timedelta

from PIL import Image

from access import clock
from exams.wounds.services import assess_wound, record_wound

FOUND = {
    "length_mm": 20,
    "width_mm": 12,
    "depth": "subcutis",
    "extensive": "no",
    "gangrene": "none",
    "infection_looked": "none",
    "bone_infection": "no",
    "pulses": "no",
    "feeling_lost": "yes",
    "deformity": "no",
    "offloading": "removable",
}


def today() -> date:
    return clock.now().date()


def days_ago(days: int) -> date:
    return today() - timedelta(days=days)


def wound(by, patient, place="right:toe_1_sole", began=10, **more):
    """An open wound that began so many days ago."""
    side, code = place.split(":")
    said = {"cause": "neuropathic", "began_on": days_ago(began), **more}
    return record_wound(patient=patient, side=side, place=code, by=by, **said)


def assess(by, of, ago=0, **found):
    """An assessment so many days ago, of a shallow clean wound unless more is found."""
    return assess_wound(wound=of, assessed_on=days_ago(ago), by=by, **{**FOUND, **found})


def photograph(width=400, height=300, form="JPEG", **more) -> bytes:
    """A picture of no wound at all."""
    drawn = io.BytesIO()
    Image.new("RGB", (width, height), (180, 90, 80)).save(drawn, form, **more)
    return drawn.getvalue()
