"""From a value of a limb to the recordings it was read from. Pure."""

from collections.abc import Mapping

from exams.traces.queries.pictures import TraceLink
from reports.timeline.series import Seen

# By the number of the reading.
Recordings = Mapping[int, TraceLink]


def behind(seen: Seen | None, recordings: Recordings) -> tuple[TraceLink, ...]:
    """The recordings of the readings that made a value, or showed that there is none."""
    ids = seen.reading_ids if seen else ()
    return tuple(recordings[one] for one in ids if one in recordings)
