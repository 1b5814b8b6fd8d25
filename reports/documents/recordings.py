"""The recordings behind an exam's readings as its report prints them. Nothing is read or stored here."""

from collections.abc import Mapping
from datetime import tzinfo

from exams.traces.queries.by_hand import words_of
from exams.traces.queries.pictures import TracePicture
from exams.visits.queries.chart import Chart
from reports.documents.assemble import in_reading_order, moment
from reports.documents.content import Fact, RecordingFigure


def recording_figures(chart: Chart, pictures: Mapping[int, TracePicture]) -> tuple[RecordingFigure, ...]:
    """A figure a standing reading that has a picture, in the order of the readings (item 12).

    Parameters
    ----------
    pictures : by the number of the reading
    """
    return tuple(
        RecordingFigure(
            place=pictures[row.pk].place,
            shown=", ".join(filter(None, (words_of(row), pictures[row.pk].by_hand))),
            facts=_facts(pictures[row.pk], chart.exam.clinic.zone),
            sketch=pictures[row.pk].sketch,
        )
        for row in sorted(chart.standing.values(), key=in_reading_order)
        if row.pk in pictures
    )


def _facts(picture: TracePicture, zone: tzinfo) -> tuple[Fact, ...]:
    facts = []
    if picture.marked:
        how = f"; {picture.marked.how}" if picture.pressure else ""
        facts += [
            Fact("Mark", f"{picture.pressure or 'none'}, {picture.quality}"),
            Fact("Read by", f"{picture.marked.who}, {moment(picture.marked.at, zone)}{how}"),
        ]
        if picture.marked.reason:
            facts.append(Fact("Because", picture.marked.reason))
    return (
        *facts,
        Fact("Suggested", f"{picture.suggested}, by reader version {picture.version}"),
        Fact("Flags", ", ".join(picture.flags) or "none"),
        Fact("Technique", picture.technique),
    )
