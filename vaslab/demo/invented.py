"""The further people of the demonstration: invented, in names from the marsh, the same on every machine."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from itertools import chain, cycle, islice, repeat
from random import Random

from vaslab.demo.feet import again, arms, falling, foot, visit
from vaslab.demo.patterns import COURSES, Course
from vaslab.demo.story import Story, Visit

SEED = 20_190_412
REPORT_PRINTED_WEEKS = 30  # only the newest of a person, and if it is not older than this
MISSED = 0.03
STUDIED, STUDY, IN_THE_STUDY, WEEKS_AFTER = "Alder House", "agreement, toes and ankles", 18, 3

FAMILIES = (
    "Bogbean", "Brooklime", "Butterbur", "Clubrush", "Comfrey", "Cowbane", "Crowfoot", "Dabchick", "Duckweed",
    "Eyotson", "Fenrush", "Figwort", "Flaxmere", "Frogbit", "Gipsywort", "Godwit", "Greylag", "Hairgrass",
    "Heronsea", "Horsetail", "Iriswade", "Ketterfen", "Lapwing", "Lodewater", "Maregrass", "Marshwort",
    "Meadowrue", "Mistlewade", "Moorhen", "Oxbow", "Peatling", "Pennywort", "Pickerel", "Pondweed",
    "Quillwort", "Redshank", "Sandpiper", "Silverweed", "Skullcap", "Smartweed", "Spearwort", "Starwort",
    "Stonewort", "Sundew", "Sweetflag", "Towpath", "Waterlode", "Willowherb", "Withybed", "Yarrowby",
)  # fmt: skip
WOMEN = (
    "Alba", "Briony", "Clover", "Damaris", "Elowen", "Fenella", "Gwenda", "Hester", "Isolde", "Juniper",
    "Kerensa", "Linnet", "Merrin", "Nerys", "Odile", "Primrose", "Quenby", "Rosamund", "Sorrel", "Thirza",
    "Una", "Verity", "Winifred", "Ysolt", "Zillah",
)  # fmt: skip
MEN = (
    "Ambrose", "Barnaby", "Corwin", "Digory", "Emrys", "Florian", "Gideon", "Hollis", "Ivor", "Jago",
    "Kenver", "Leander", "Merlin", "Nicodemus", "Orlan", "Peregrine", "Quentin", "Rufus", "Silvan", "Tobit",
    "Ulric", "Valentine", "Warin", "Yestin", "Zebedee",
)  # fmt: skip
SURGERIES = ("Sedge Lane Surgery", "Withy Road Surgery", "Lode Bank Surgery")


def invented() -> tuple[Story, ...]:
    """Every course as often as `COURSES` says, well mixed over both clinics."""
    courses = list(chain.from_iterable(repeat(*one) for one in COURSES.items()))
    chance = Random(SEED)  # noqa: S311
    chance.shuffle(courses)
    return tuple(with_agreement(_person(number, course) for number, course in enumerate(courses)))


def with_agreement(people: Iterable[Story]) -> Iterator[Story]:
    """The same, some of one clinic measured once more within three weeks: its study of agreement.

    Two feet each make more than the thirty pairs from which a clinic has a noise of its own.
    """
    chance = Random(f"{SEED} agreement")  # noqa: S311
    left = IN_THE_STUDY
    for one in people:
        if left and one.clinic == STUDIED and _may_repeat(one):
            left -= 1
            newest = one.visits[-1]
            repeat = again(chance, newest, newest.weeks - chance.randint(1, 3), STUDY)
            yield replace(one, visits=(*one.visits, repeat))
        else:
            yield one


def _may_repeat(one: Story) -> bool:
    """Whether something was measured everywhere at the newest visit, and nothing happens soon after it."""
    if not one.visits or one.merged:
        return False
    newest = one.visits[-1]
    plain = newest.ends in ("report", "reported") and not newest.recorded and newest.weeks > WEEKS_AFTER
    numbers = all(mark not in f"{newest.arms} {newest.right} {newest.left}" for mark in "/-")
    dates = [when for fact in one.facts for when in (fact.weeks, fact.until)]
    dates += [when for wound in one.wounds for when in (wound.weeks, wound.until)]
    soon = range(newest.weeks - WEEKS_AFTER - 1, newest.weeks + 2)
    return plain and numbers and bool(newest.arms) and not any(when in soon for when in dates)


def endless() -> Iterator[Story]:
    """One person of each course, over and over, each time otherwise: what an archive is made of."""
    for number, course in enumerate(cycle(COURSES)):
        yield _person(number, course)


def one_of_each() -> tuple[Story, ...]:
    return tuple(islice(endless(), len(COURSES)))


def often_seen() -> Story:
    """One person measured every other week for eight years: two hundred exams on one page."""
    chance = Random(SEED)  # noqa: S311
    weeks = range(402, 2, -2)
    toe = falling(88, 56, len(weeks))
    visits = tuple(
        visit(
            chance,
            week,
            arms=arms(chance, 138),
            right=foot(chance, 150, toe[number]),
            left=foot(chance, 146, toe[number] + 6),
            indication="surveillance",
        )
        for number, week in enumerate(weeks)
    )
    return Story(
        about="two hundred exams",
        clinic="Alder House",
        given="Ottoline",
        family="Everreed",
        born="1950-01-07",
        sex="female",
        number="FM 12000",
        visits=visits,
    )


def _person(number: int, course: Callable[[Random], Course]) -> Story:
    chance = Random(f"{SEED} {number}")  # noqa: S311
    born = date(1938, 2, 1) + timedelta(days=(211 * number) % 13_000 + chance.randint(0, 180))
    clinic = ("Alder House", "Lock Street")[number % 2]
    sex = chance.choice(("female", "male"))
    names = WOMEN if sex == "female" else MEN
    told: Course = {"diabetes": "yes", "referrer": chance.choice(SURGERIES), **course(chance)}
    told["visits"] = tuple(_lived(chance, told["visits"]))
    return Story(
        clinic=clinic,
        given=names[number % len(names)],
        family=FAMILIES[number % len(FAMILIES)],
        born=born.isoformat(),
        sex=sex,
        number=f"{'FM' if clinic == 'Alder House' else 'LS'} {13_000 + 17 * number}",
        telephone=f"01555 {30 + number // 1000:03} {number % 1000:03}",
        **told,
    )


def _lived(chance: Random, visits: tuple[Visit, ...]) -> Iterator[Visit]:
    """Now and then nobody came; the newest report of a person is printed if it is not long ago."""
    for number, one in enumerate(visits):
        newest = number == len(visits) - 1
        if newest and one.weeks <= REPORT_PRINTED_WEEKS:
            yield replace(one, ends="report")
        elif not newest and number and not one.corrected and chance.random() < MISSED:
            yield Visit(
                weeks=one.weeks, exam_type=one.exam_type, indication=one.indication,
                ends="not_attended", why="did not come; telephoned, new date sent",
            )  # fmt: skip
        else:
            yield one
