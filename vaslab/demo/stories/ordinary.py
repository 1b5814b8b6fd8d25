"""Ordinary days: nothing found, nobody came, a name like another's."""

from vaslab.demo.story import Promised, Story, Tried, Visit

TEASEL = Story(
    about="normal feet, yearly recall",
    clinic="Alder House",
    given="Cicely",
    family="Teasel",
    born="1966-05-19",
    sex="female",
    number="FM 10603",
    telephone="01555 010 603",
    recall=0,
    visits=tuple(
        Visit(weeks=weeks, arms=arms, right=right, left=left, indication="surveillance")
        for weeks, arms, right, left in (
            (404, "124 122 126", "pt 134 dp 138 t1 98 100", "pt 132 dp 136 t1 102 100"),
            (352, "126 124 124", "pt 138 dp 136 t1 104 102", "pt 136 dp 140 t1 100 98"),
            (300, "122 124 122", "pt 132 dp 134 t1 96 98", "pt 134 dp 132 t1 99 101"),
            (248, "128 126 126", "pt 140 dp 138 t1 101 103", "pt 138 dp 142 t1 104 102"),
            (196, "124 126 124", "pt 136 dp 134 t1 97 99", "pt 132 dp 138 t1 98 100"),
            (144, "126 122 126", "pt 134 dp 138 t1 100 102", "pt 136 dp 134 t1 96 98"),
            (92, "130 126 128", "pt 142 dp 140 t1 103 101", "pt 140 dp 138 t1 102 104"),
            (40, "128 126 128", "pt 138 dp 142 t1 99 101", "pt 138 dp 140 t1 100 98"),
        )
    ),
)

SLUICE = Story(
    about="appointments missed, a dressing left on, an exam stopped",
    clinic="Alder House",
    given="Lowell",
    family="Sluice",
    born="1949-06-06",
    sex="male",
    number="FM 10913",
    neuropathy="yes",
    tobacco="stopped",
    telephone="01555 010 913",
    recall=2,
    tries=(
        Tried(43, "telephone", "not_reached", "rang out twice"),
        Tried(38, "telephone", "comes", "forgot the day; a new one sent"),
        Tried(12, "letter", "left_word"),
        Tried(3, "telephone", "undecided", "afraid of fainting again"),
    ),
    promises=(Promised(40, "See again with a blood-pressure check first", 90),),
    visits=(
        Visit(
            weeks=80,
            arms="142 140 142",
            right="pt 120 dp 118 t1 66 68",
            left="pt 114 dp -dressing_not_removed t1 -dressing_not_removed",
            indication="foot_ulcer",
            indication_text="LEFT dorsal wound, dressing to stay",
        ),
        Visit(weeks=44, ends="not_attended", why="did not come; telephoned, new date sent"),
        Visit(
            weeks=40,
            arms="144 142",
            indication="surveillance",
            ends="stopped",
            why="felt faint lying flat; sat up and recovered",
        ),
        Visit(weeks=0, indication="surveillance", ends="booked"),
    ),
)

MABEL_OSIER = Story(
    about="a name like another's: the warning before a second record",
    clinic="Alder House",
    given="Mabel",
    registered_because="sisters-in-law; birth dates checked on the card",
    family="Osier",
    born="1951-09-03",
    sex="female",
    number="FM 10950",
    diabetes="unknown",
    telephone="01555 010 950",
    referrer="Withy Road Surgery",
    visits=(
        Visit(
            weeks=34,
            arms="126 128 126",
            right="pt 124 dp 128 t1 -time",
            left="pt 120 dp 122 t1 -time",
            indication="absent_pulses",
            indication_text="pulses not felt at the foot check",
        ),
        Visit(weeks=0, indication="absent_pulses", ends="resting"),
    ),
)
