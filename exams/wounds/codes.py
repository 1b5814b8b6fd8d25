"""What is chosen of a wound, in codes that are stored and words a nurse uses. No table stands here."""

from django.db.models import TextChoices

# Under which a limb's stage is kept beside the grades of a wound, which have the names of the core.
STAGE = "wifi_stage"
# Facts of the limb that this room writes name this as their source, and only those are ended by it.
WOUND_NOTES = "wound notes"


class Cause(TextChoices):
    """Why the wound came (workflow.md 6); the values of the core's ``Cause``."""

    NEUROPATHIC = "neuropathic", "loss of feeling (neuropathic)"
    ISCHAEMIC = "ischaemic", "poor blood flow (ischaemic)"
    MIXED = "mixed", "loss of feeling and poor blood flow (neuro-ischaemic)"
    PRESSURE = "pressure", "pressure of lying, a device or a dressing"
    VENOUS = "venous", "venous"
    AFTER_SURGERY = "after_surgery", "after an operation or amputation"
    INJURY = "injury", "an injury or burn"
    OTHER = "other", "something else"
    UNKNOWN = "unknown", "not known yet"


class Status(TextChoices):
    """How a wound stands. Death and loss to follow-up are of the person, and stand with the episode."""

    OPEN = "open", "open"
    HEALED = "healed", "healed"
    AMPUTATED = "amputated", "gone with an amputation"


class Depth(TextChoices):
    """The deepest layer seen or probed; all but two have the values of the core's ``Tissue``."""

    SKIN = "skin", "skin only"
    SUBCUTIS = "subcutis", "into the fat under the skin"
    MUSCLE = "muscle", "to muscle"
    TENDON = "tendon", "to tendon"
    JOINT = "joint", "to a joint or its capsule"
    PHALANX = "phalanx", "to bone, only of the end of a toe"
    BONE = "bone", "to bone"
    NOT_SEEN = "not_seen", "cannot be seen (covered)"


class Gangrene(TextChoices):
    """Dead tissue; all but the last have the values of the core's ``Gangrene``."""

    NONE = "none", "none"
    DIGITS = "digits", "of toes only"
    EXTENSIVE = "extensive", "of the forefoot or midfoot"
    HEEL = "heel", "of the heel, full thickness"
    NOT_SEEN = "not_seen", "cannot be seen (covered)"


class Tissue(TextChoices):
    EPITHELIAL = "epithelial", "new skin at the edge"
    GRANULATING = "granulating", "red, granulating"
    SLOUGH = "slough", "slough"
    DRY_NECROSIS = "dry_necrosis", "dry black tissue"
    WET_NECROSIS = "wet_necrosis", "wet black tissue"


class InfectionLooked(TextChoices):
    NONE = "none", "looked: no sign of infection"
    SIGNS = "signs", "looked: the signs below"
    NOT_LOOKED = "not_looked", "not looked at today"


class LocalSign(TextChoices):
    """Local signs of infection, beside the redness, which is measured (clinical.md 4.5)."""

    SWELLING = "swelling", "swelling or hardening"
    PAIN = "pain", "pain or tenderness"
    WARMTH = "warmth", "warmth"
    PUS = "pus", "pus"


class DeepSign(TextChoices):
    """Infection below the skin and the fat under it. Of the bone is asked apart."""

    ABSCESS = "abscess", "abscess"
    JOINT = "joint", "joint infection"
    FASCIITIS = "fasciitis", "fasciitis (spreading deep infection)"


class ExplainedBy(TextChoices):
    """What may look like an infection; the values of the core's ``OtherCause``."""

    GOUT = "gout", "gout"
    CHARCOT = "charcot", "Charcot foot"
    FRACTURE = "fracture", "a fracture"
    THROMBOSIS = "thrombosis", "a clot in a vein"
    STASIS = "stasis", "stasis of the veins"
    TRAUMA = "trauma", "an injury"


class InfectionJudged(TextChoices):
    """The grade somebody gave by eye, beside the one computed from the signs."""

    NONE = "none", "not infected"
    MILD = "mild", "mild"
    MODERATE = "moderate", "moderate"
    SEVERE = "severe", "severe"


class Yes(TextChoices):
    YES = "yes", "yes"
    NO = "no", "no"
    UNKNOWN = "unknown", "not known"


class Offloading(TextChoices):
    NONE = "none", "none yet"
    SHOE = "shoe", "protective shoe or insole"
    FELT = "felt", "felted foam"
    REMOVABLE = "removable", "removable device"
    FIXED = "fixed", "knee-high device that cannot be taken off"
    BED = "bed", "heel kept free in bed"
    NOT_NEEDED = "not_needed", "not needed here"
    REFUSED = "refused", "declined"


class AreaHow(TextChoices):
    """How the area was found; the values of the core's ``AreaMethod``. One typed was traced elsewhere."""

    BY_LENGTH = "length_times_width", "length × width"
    TRACED = "traced", "traced"


class EpisodeEnd(TextChoices):
    """How an episode ended. A death is read from the person's record, so that it can be undone there."""

    HEALED = "healed", "all wounds healed"
    LOST = "lost", "lost to follow-up"
    IN_ERROR = "in_error", "entered in error"
