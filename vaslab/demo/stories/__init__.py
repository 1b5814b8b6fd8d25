"""The people of the demonstration, in the order they are told. Everyone here is invented."""

from vaslab.demo.stories.arteries import BRAM_OSIER, DUNNOCK, KINGCUP, REEDMACE, WATERMINT
from vaslab.demo.stories.cautions import EELBY, MILLRACE
from vaslab.demo.stories.identity import TEASEL_AGAIN
from vaslab.demo.stories.ordinary import MABEL_OSIER, SLUICE, TEASEL
from vaslab.demo.stories.recordings import COTTONGRASS, FESCUE, GALINGALE
from vaslab.demo.stories.toes import BULRUSH, LOOSESTRIFE, SALLOW

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
)
