"""Words of this room that pages and services share."""

from exams.hemodynamics import InputError

_REFUSED = {
    "wound.phalanx_elsewhere": "Only a wound of the forefoot can reach the bone of the end of a toe. Choose "
    "“to bone”, or mend the place.",
    "wound.calcaneus_elsewhere": "The heel bone is only reached at the heel. Mend the depth or the place.",
    "wound.gangrene_elsewhere": "Gangrene of this kind cannot be at this place. Mend one of the two.",
    "wound.width_missing": "Write both length and width, or neither.",
    "wound.length_missing": "Write both length and width, or neither.",
}


def refused_words(error: InputError) -> str:
    """What the core refused, in words a nurse understands."""
    if error.code == "wound.out_of_range" and isinstance(error.limit, tuple):
        low, high = error.limit
        return f"{error.value} is not possible here: between {low} and {high}. Check the figure and its unit."
    return _REFUSED.get(error.code, "These cannot be together. Check this and what it depends on.")


def size_words(area_mm2: int) -> str:
    """An area in cm², one decimal; below a tenth of one, in mm²."""
    return f"{area_mm2 / 100:.1f} cm²" if area_mm2 >= 10 else f"{area_mm2} mm²"
