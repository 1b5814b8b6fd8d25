"""The people of the demonstration whose stories are written by hand, in the order they are told.

Everyone here is invented. Further people are made by `vaslab.demo.invented`.
"""

from vaslab.demo.stories.arteries import BRAM_OSIER, DUNNOCK, KINGCUP, REEDMACE, WATERMINT
from vaslab.demo.stories.cautions import EELBY, MILLRACE
from vaslab.demo.stories.identity import TEASEL_AGAIN
from vaslab.demo.stories.ordinary import MABEL_OSIER, SLUICE, TEASEL
from vaslab.demo.stories.recordings import COTTONGRASS, FESCUE, GALINGALE
from vaslab.demo.stories.toes import BULRUSH, LOOSESTRIFE, SALLOW
from vaslab.demo.stories.walking import TURNSTONE

# A person's place decides the hours of their visits, so a new one goes last.
STORIES = (
    DUNNOCK,
    BRAM_OSIER,
    TEASEL,
    SALLOW,
    BULRUSH,
    EELBY,
    LOOSESTRIFE,
    REEDMACE,
    WATERMINT,
    KINGCUP,
    MILLRACE,
    SLUICE,
    MABEL_OSIER,
    FESCUE,
    GALINGALE,
    COTTONGRASS,
    TEASEL_AGAIN,
    TURNSTONE,
)
