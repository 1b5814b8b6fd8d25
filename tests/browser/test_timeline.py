"""The patient page and the limb timeline in a real browser."""

from datetime import timedelta

import pytest

from access import clock
from exams.patients.services import record_limb_fact
from tests.build import new_patient, whole_exam
from tests.timeline.many import copies_of

# 210 mm less 10 mm on either side, in CSS pixels.
A4_WITHIN_MARGINS = 718
pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def years_of_ivy(measurer):
    """Ivy's RIGHT ankle stiffens and her hallux is replaced by the second toe; the LEFT stays as it was."""
    ivy = new_patient(measurer, given_name="Ivy", family_name="Sampleton")
    now = clock.now()

    def exam(days_ago, **pressures):
        whole_exam(measurer, ivy, at=now - timedelta(days=days_ago), **pressures)

    exam(2600, right_hallux=96)
    exam(2200, right_hallux=84)
    exam(1800, right_hallux=76, right_posterior_tibial="*250", right_dorsalis_pedis="*250")
    exam(1400, right_hallux=70)
    exam(1000, right_hallux=52, right_posterior_tibial=126, right_dorsalis_pedis=120)
    exam(600, right_hallux="-2", right_second_toe=44, right_posterior_tibial=112, right_dorsalis_pedis=104)
    exam(200, right_hallux="-2", right_second_toe=38, right_posterior_tibial=96, right_dorsalis_pedis=90)
    exam(20, right_hallux="-2", right_second_toe=24, right_posterior_tibial=84, right_dorsalis_pedis=80)
    record_limb_fact(
        patient=ivy,
        side="right",
        kind="open_wound",
        started_on=(now - timedelta(days=30)).date(),
        source="seen",
        note="heel",
        by=measurer,
    )
    return ivy


@pytest.fixture
def timeline_of_ivy(page_as, measurer, years_of_ivy):
    """``timeline_of_ivy(width=390)`` opens her limb timeline with its figures drawn."""

    def opened(**options):
        page = page_as(measurer, **options)
        page.goto(f"/patients/{years_of_ivy.pk}/timeline/")
        page.locator(".timeline-chart .main-svg").nth(7).wait_for(state="attached")
        return page

    return opened


def drawn(page, figure, limb):
    """What the chart library was given for one panel: the data and settings it holds."""
    return page.evaluate(
        """([figure, limb]) => {
            const box = document.querySelector(`[data-chart="${figure}"][data-limb="${limb}"]`);
            const { data, layout, _context: set } = box;
            return {
                lines: data.filter((one) => one.error_y).map((one) => one.y),
                dashes: data.filter((one) => one.error_y).map((one) => one.line.dash),
                ink: data.find((one) => one.error_y).marker.color,
                breaks: data.flatMap((one) => (one.mode === "text" && one.name !== "limits" ? one.text : [])),
                limits: data.find((one) => one.name === "limits").text,
                across: layout.xaxis.range,
                top: layout.yaxis.range[1],
                shares: [set.showSendToCloud, set.plotlyServerURL, set.topojsonURL, set.displaylogo]
                    .filter(Boolean),
            };
        }""",
        [figure, limb],
    )


def names_over_marks(page, figure, limb):
    """The names of limits that are drawn over a mark of one panel."""
    return page.evaluate(
        """([figure, limb]) => {
            const box = document.querySelector(`[data-chart="${figure}"][data-limb="${limb}"]`);
            const marks = [...box.querySelectorAll(".scatterlayer .point")].map((one) => {
                const at = one.getBoundingClientRect();
                return [at.x + at.width / 2, at.y + at.height / 2];
            });
            const names = [...box.querySelectorAll(".textpoint text")];
            return names
                .filter((one) => /: (reduced|too stiff|urgent)/.test(one.textContent))
                .filter((one) => {
                    const at = one.getBoundingClientRect();
                    return marks.some(([x, y]) => x > at.left && x < at.right && y > at.top && y < at.bottom);
                })
                .map((one) => one.textContent);
        }""",
        [figure, limb],
    )


def over_the_edge_of_its_foot(page):
    """RIGHT, LEFT: whether the numbers are wider than the half of the page that is theirs."""
    return page.locator(".timeline-numbers").evaluate_all(
        "tables => tables.map((one) => one.offsetWidth > one.parentElement.clientWidth)"
    )


def marks(page):
    return page.locator('[data-chart="pressures"][data-limb="right"] .scatterlayer .point')


def point_at(page, mark):
    """Forced: the chart lays a sheet of its own over the marks to feel the pointer."""
    mark.hover(force=True)
    page.locator(".hoverlayer .hovertext").first.wait_for()


def test_axe_finds_nothing_on_patient_page_and_timeline(
    page_as, measurer, years_of_ivy, timeline_of_ivy, accessible
):
    for width, scheme in [(1440, "light"), (390, "light"), (1440, "dark"), (390, "dark")]:
        patient_page = page_as(measurer, width=width, color_scheme=scheme)
        patient_page.goto(f"/patients/{years_of_ivy.pk}/")
        timeline = timeline_of_ivy(width=width, color_scheme=scheme)

        assert (width, scheme, accessible(patient_page)) == (width, scheme, [])
        assert (width, scheme, accessible(timeline)) == (width, scheme, [])


def test_no_chart_offers_sharing_and_nothing_is_asked_of_another_host(
    page_as, measurer, years_of_ivy, live_server
):
    page = page_as(measurer)
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"/patients/{years_of_ivy.pk}/timeline/")
    page.locator(".timeline-chart .main-svg").nth(7).wait_for(state="attached")

    panels = [(figure, limb) for figure in ("pressures", "indices") for limb in ("right", "left")]
    assert [drawn(page, *panel)["shares"] for panel in panels] == [[]] * 4
    assert page.locator(".modebar, .modebar-btn").count() == 0
    assert [url for url in asked if not url.startswith((live_server.url, "data:", "blob:"))] == []


def test_the_policy_of_the_site_is_never_broken_not_even_while_pointing_at_marks(timeline_of_ivy):
    page = timeline_of_ivy()
    page.evaluate(
        """() => {
            window.broken = [];
            document.addEventListener("securitypolicyviolation", (event) => broken.push(event.blockedURI));
        }"""
    )

    point_at(page, marks(page).first)
    page.get_by_label("last 2 years").check()

    assert page.evaluate("window.broken") == []


def test_what_was_typed_stays_text_when_a_mark_is_pointed_at(page_as, measurer):
    ann = new_patient(measurer)
    record_limb_fact(
        patient=ann,
        side="right",
        kind="open_wound",
        started_on=(clock.now() - timedelta(days=300)).date(),
        source="seen",
        note='<a href="/elsewhere">heel</a>',
        by=measurer,
    )
    whole_exam(measurer, ann, at=clock.now() - timedelta(days=600))
    page = page_as(measurer)
    page.goto(f"/patients/{ann.pk}/timeline/")

    point_at(page, marks(page).last)

    assert page.locator(".hoverlayer a").count() == 0


def test_lines_break_where_the_ankle_could_not_be_occluded_and_where_another_toe_was_measured(
    timeline_of_ivy,
):
    pressures = drawn(timeline_of_ivy(), "pressures", "right")

    assert pressures["lines"] == [
        [150, 150],
        [150, 126, 112, 96, 84],
        [96, 84, 76, 70, 52],
        [44, 38, 24],
    ]
    assert pressures["breaks"] == ["//1", "//2"]


def test_ankle_and_toe_differ_by_dash_and_carry_the_limits_by_name(timeline_of_ivy):
    pressures = drawn(timeline_of_ivy(), "pressures", "right")

    assert pressures["dashes"][0] == "solid"
    assert pressures["dashes"][-1] != "solid"
    assert "toe below 30: urgent" in pressures["limits"]


def test_the_name_of_a_limit_hides_no_mark_where_it_has_a_free_place(page_as, measurer):
    hamish = new_patient(measurer, given_name="Hamish", family_name="Sampleton")
    for days_ago in (400, 20):
        whole_exam(
            measurer,
            hamish,
            at=clock.now() - timedelta(days=days_ago),
            left_posterior_tibial=136,
            left_dorsalis_pedis=130,
            left_hallux=93,
        )
    page = page_as(measurer)
    page.goto(f"/patients/{hamish.pk}/timeline/")
    page.locator(".timeline-chart .main-svg").nth(7).wait_for(state="attached")

    assert names_over_marks(page, "indices", "left") == []


def test_right_and_left_share_both_scales(timeline_of_ivy):
    page = timeline_of_ivy()

    right, left = (drawn(page, "indices", limb) for limb in ("right", "left"))
    assert right["across"] == left["across"]
    assert right["top"] == left["top"]


def test_either_figure_and_a_shorter_time_are_chosen_by_keyboard_alone(timeline_of_ivy):
    page = timeline_of_ivy()
    whole = drawn(page, "indices", "right")["across"]

    page.get_by_label("both", exact=True).focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Tab")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")

    assert page.get_by_role("heading", name="Pressures, mmHg").is_hidden()
    assert page.get_by_role("heading", name="Indices").is_visible()
    assert drawn(page, "indices", "right")["across"][0] > whole[0]


def test_the_dark_theme_draws_in_its_own_ink(timeline_of_ivy):
    light = drawn(timeline_of_ivy(color_scheme="light"), "pressures", "right")["ink"]
    dark = drawn(timeline_of_ivy(color_scheme="dark"), "pressures", "right")["ink"]

    assert light != dark


def test_a_change_of_theme_redraws_an_open_page(timeline_of_ivy):
    page = timeline_of_ivy(color_scheme="light")
    light = drawn(page, "pressures", "right")["ink"]

    page.emulate_media(color_scheme="dark")

    page.wait_for_function(
        "(ink) => document.querySelector('[data-chart]').data"
        ".find((one) => one.error_y).marker.color !== ink",
        arg=light,
    )


def test_a_phone_needs_no_scrolling_sideways(page_as, measurer, years_of_ivy):
    page = page_as(measurer, width=390)
    for rest in ("", "timeline/"):
        page.goto(f"/patients/{years_of_ivy.pk}/{rest}")
        page.wait_for_load_state("networkidle")

        assert page.evaluate("document.documentElement.scrollWidth") <= 390, rest


def test_between_desk_and_phone_the_numbers_of_one_foot_do_not_run_into_the_other(
    page_as, measurer, years_of_ivy
):
    page = page_as(measurer)
    for width in (1200, 1024, 770, 600):
        page.set_viewport_size({"width": width, "height": 900})
        page.goto(f"/patients/{years_of_ivy.pk}/")

        assert (width, over_the_edge_of_its_foot(page)) == (width, [False, False])
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_on_paper_the_numbers_of_one_foot_do_not_run_into_the_other(page_as, measurer, years_of_ivy):
    page = page_as(measurer, width=A4_WITHIN_MARGINS)
    page.emulate_media(media="print")
    page.goto(f"/patients/{years_of_ivy.pk}/")

    assert over_the_edge_of_its_foot(page) == [False, False]


def test_without_javascript_the_table_tells_everything(page_as, measurer, years_of_ivy):
    page = page_as(measurer, java_script_enabled=False)
    page.goto(f"/patients/{years_of_ivy.pk}/timeline/")

    assert page.get_by_text("The table below holds every value").is_visible()
    assert page.get_by_role("group", name="Figures").is_hidden()
    assert page.locator(".timeline-table").first.get_by_text("24 mmHg").is_visible()


def test_the_table_is_one_key_away_from_the_top(timeline_of_ivy):
    page = timeline_of_ivy()

    page.get_by_role("link", name="Go to the table").press("Enter")

    assert page.url.endswith("#table")
    assert page.get_by_role("heading", name="The same in a table").is_visible()


def test_an_empty_timeline_runs_no_script_and_has_no_fault(page_as, measurer, accessible):
    page = page_as(measurer)
    page.goto(f"/patients/{new_patient(measurer).pk}/timeline/")

    assert page.get_by_text("Nothing is measured yet").is_visible()
    assert accessible(page) == []


def test_a_timeline_of_two_hundred_exams_is_drawn_whole_when_asked(page_as, measurer):
    exam = whole_exam(measurer, toe_technique="one_cuff_hand")
    copies_of(exam, 199)
    page = page_as(measurer)
    page.goto(f"/patients/{exam.patient_id}/timeline/?exams=all")
    page.locator(".timeline-chart .main-svg").nth(7).wait_for(state="attached")

    assert [len(line) for line in drawn(page, "pressures", "left")["lines"]] == [200, 200]
