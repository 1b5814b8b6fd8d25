"""How a referral, a recall and a promise run: the words and the moves between states. Data, no table."""

from dataclasses import dataclass

from django.db.models import TextChoices

from exams.hemodynamics import Urgency as CoreUrgency


class Urgency(TextChoices):
    """How soon a referral should go, in the core's words; how long each may wait is in ``targets.py``."""

    AT_ONCE = CoreUrgency.AT_ONCE.value, CoreUrgency.AT_ONCE.words
    ONE_WORKING_DAY = CoreUrgency.ONE_WORKING_DAY.value, CoreUrgency.ONE_WORKING_DAY.words
    TWO_TO_FOUR_WEEKS = CoreUrgency.TWO_TO_FOUR_WEEKS.value, CoreUrgency.TWO_TO_FOUR_WEEKS.words
    SIX_TO_EIGHT_WEEKS = CoreUrgency.SIX_TO_EIGHT_WEEKS.value, CoreUrgency.SIX_TO_EIGHT_WEEKS.words


class State(TextChoices):
    SENT = "sent", "sent"
    RECEIVED = "received", "received"
    ACCEPTED = "accepted", "accepted"
    RETURNED = "returned", "returned with a question"
    DECLINED = "declined", "declined"
    SEEN = "seen", "seen"
    TREATED = "treated", "treated"
    OUTCOME = "outcome", "outcome told"
    CLOSED = "closed", "closed"


# What the button sends that takes the newest step back, in the place of a state.
TAKEN_BACK = "taken_back"
# Who takes a step: an ability of access/roles.toml, which says which roles hold it.
REFERRING = "refer"
ANSWERING = "answer referral"


@dataclass(frozen=True)
class Move:
    """One allowed step. ``words`` says what must be told with it, empty where nothing must.

    ``day``: "expected" for a day to come that may be given, "happened" for a past day that must be.
    """

    before: str
    after: str
    by: str
    does: str
    words: str = ""
    day: str = ""


_WHY_CLOSED = "Say why it is closed, and what happens with this foot instead."
_WHAT_WAS_FOUND = "Say what was found and decided, and what is asked of the wound team now."
# Every step there is. The order is that of the buttons on the page.
MOVES = (
    Move("", State.SENT, REFERRING, "Send the referral"),
    Move(State.SENT, State.RECEIVED, ANSWERING, "Received"),
    *(
        move
        for before in (State.SENT, State.RECEIVED)
        for move in (
            Move(before, State.ACCEPTED, ANSWERING, "Accept", day="expected"),
            Move(before, State.RETURNED, ANSWERING, "Return with a question", "Say what has to be known."),
            Move(before, State.DECLINED, ANSWERING, "Decline", "Say why, and what to do instead."),
        )
    ),
    Move(State.RETURNED, State.SENT, REFERRING, "Answer and send again", "Answer what was asked."),
    Move(State.DECLINED, State.ACCEPTED, ANSWERING, "Accept after all", "Say what changed.", "expected"),
    Move(State.DECLINED, State.SENT, REFERRING, "Send again", "Say what is new since it was declined."),
    Move(State.ACCEPTED, State.SEEN, ANSWERING, "Seen", day="happened"),
    Move(
        State.ACCEPTED, State.ACCEPTED, ANSWERING, "Give another day", "Say why the day changed.", "expected"
    ),
    Move(State.ACCEPTED, State.DECLINED, ANSWERING, "Decline after all", "Say why, and what to do instead."),
    Move(State.SEEN, State.TREATED, ANSWERING, "Treated", "Say what was done.", "happened"),
    Move(State.SEEN, State.OUTCOME, ANSWERING, "Tell the outcome", _WHAT_WAS_FOUND),
    Move(State.TREATED, State.OUTCOME, ANSWERING, "Tell the outcome", _WHAT_WAS_FOUND),
    Move(State.OUTCOME, State.CLOSED, REFERRING, "Outcome read: close", "Say what follows from it here."),
    *(
        Move(before, State.CLOSED, REFERRING, "Close", _WHY_CLOSED)
        for before in State
        if before not in (State.OUTCOME, State.CLOSED)
    ),
)
# Where the referring side has something to do; elsewhere, until it is closed, the answering side has.
WAITS_FOR_REFERRING = (State.RETURNED, State.DECLINED, State.OUTCOME)
WAITS_FOR_ANSWERING = (State.SENT, State.RECEIVED, State.ACCEPTED, State.SEEN, State.TREATED)
UNANSWERED = (State.SENT, State.RECEIVED)

NEXT_STEP = {
    State.SENT: "Ring the surgeon's side: nobody has answered yet.",
    State.RECEIVED: "Received, not answered: ask whether it is accepted.",
    State.ACCEPTED: "Accepted: see that the person is seen.",
    State.RETURNED: "Answer the question and send it again.",
    State.DECLINED: "Declined: decide what happens with this foot instead.",
    State.SEEN: "Seen: treatment or outcome is not told yet.",
    State.TREATED: "Treated: the outcome is not told yet; measure a new baseline.",
    State.OUTCOME: "Read the outcome, act on it, and close.",
    State.CLOSED: "",
}
NEXT_STEP_ANSWERING = {
    State.SENT: "Accept it, return it with a question, or decline it.",
    State.RECEIVED: "Accept it, return it with a question, or decline it.",
    State.ACCEPTED: "See the person, then say so here.",
    State.RETURNED: "The wound team has to answer your question.",
    State.DECLINED: "The wound team decides what happens instead.",
    State.SEEN: "Say what was done, or tell the outcome.",
    State.TREATED: "Tell the outcome.",
    State.OUTCOME: "The wound team reads the outcome and closes it.",
    State.CLOSED: "",
}


def moves_from(state: str) -> tuple[Move, ...]:
    """The steps that may follow ``state``; none follows "closed"."""
    return tuple(move for move in MOVES if move.before == state)


def move_to(before: str, after: str) -> Move | None:
    """The step from one state to another, None where there is none."""
    return next((move for move in MOVES if (move.before, move.after) == (before, after)), None)


# ---- recall


class RecallKind(TextChoices):
    """Why somebody is due: by the foot's risk category, or because of an event (a fact of the limb)."""

    RISK = "risk", "foot-risk category"
    REVASCULARISATION = "revascularisation", "new baseline after a procedure"
    OPEN_WOUND = "open_wound", "new baseline: new ulcer"
    AMPUTATION = "amputation", "new baseline after an amputation"
    FOOT_INFECTION = "foot_infection", "new baseline: foot infection"


EVENT_KINDS = tuple(kind.value for kind in RecallKind if kind != RecallKind.RISK)


class RecallEnd(TextChoices):
    """How a recall ended. A death ends none: it stops all at once, and can be taken back."""

    SEEN = "seen", "seen, with the next date set if there is one"
    DISCHARGED = "discharged", "discharged"
    TRANSFERRED = "transferred", "transferred to another service"
    MOVED = "moved", "moved away"
    REFUSED = "refused", "does not want to come"
    NEVER_WAS = "never_was", "the event was withdrawn or corrected"


# What a person may choose; the rest follow from other acts.
ENDS_CHOSEN = (RecallEnd.DISCHARGED, RecallEnd.TRANSFERRED, RecallEnd.MOVED, RecallEnd.REFUSED)


class ContactWay(TextChoices):
    TELEPHONE = "telephone", "telephone"
    LETTER = "letter", "letter"
    MESSAGE = "message", "message"
    IN_PERSON = "in_person", "in person"
    THROUGH_ANOTHER = "through_another", "through somebody else"


class ContactOutcome(TextChoices):
    COMES = "comes", "reached: will come"
    UNDECIDED = "undecided", "reached: not decided"
    REFUSES = "refuses", "reached: does not want to come"
    LEFT_WORD = "left_word", "left word"
    NOT_REACHED = "not_reached", "not reached"
    WRONG_NUMBER = "wrong_number", "wrong number or address"


# ---- promises


class PromiseKind(TextChoices):
    """What was promised; some are kept by an exam that is finished, the others by a person's word.

    MEASURE by any exam measured after the promise. WARM by one in which the skin of every foot meant was
    measured and none was cold by the criteria.
    """

    SEE = "see", "see again"
    MEASURE = "measure", "measure again"
    WARM = "warm", "repeat with warm feet"
    CALL = "call", "telephone"
    OTHER = "other", "other"


KEPT_BY_AN_EXAM = (PromiseKind.MEASURE, PromiseKind.WARM)
