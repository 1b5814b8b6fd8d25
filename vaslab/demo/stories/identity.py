"""One person under two records, until somebody saw it."""

from vaslab.demo.story import Merged, Story, Visit

TEASEL_AGAIN = Story(
    about="Cicely Teasel a second time, from a referral that misspelt her; the two records merged",
    clinic="Alder House",
    given="Cicely",
    family="Teasle",
    born="1966-05-19",
    sex="female",
    number="FM 20603",
    telephone="01555 010 603",
    registered_because="the referral gives another number; to be cleared up",
    visits=(
        Visit(
            weeks=20,
            arms="126 124 126",
            right="pt 136 dp 138 t1 98 100",
            left="pt 138 dp 136 t1 101 99",
            indication="surveillance",
        ),
    ),
    merged=Merged(into="FM 10603", weeks=8, because="same birth date and telephone; she confirmed it"),
)
