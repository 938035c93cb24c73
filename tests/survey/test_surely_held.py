"""Where every mode by itself gives what is required, no window of the week is below it."""

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from ventrules import job_from_document
from ventrules.survey import Survey
from ventrules.testing import job_documents
from ventrules.units import at_least

PARTS = st.sampled_from((0.4, 0.9, 1.0, 1.1, 2.0))
SHARES = st.sampled_from((0.0, 0.05, 0.3, 0.75, 1.0))


@given(st.data())
@settings(max_examples=40)
def test_the_bound_never_passes_a_week_with_a_window_below(data: st.DataObject) -> None:
    survey = Survey(job_from_document(data.draw(job_documents())))
    assume(survey.unknown is None and survey.weeks)
    asked = survey.requirement
    enough = max(asked.continuous_m3s, asked.intermittent_m3s)
    for view in survey.weeks:
        given_courses = view.courses or {}
        courses = {
            mode: (
                enough * data.draw(PARTS),
                *[number for _ventilator in survey.driven for number in (enough * data.draw(PARTS), data.draw(SHARES))],
            )
            for mode in given_courses
        }
        worst = view.worst(courses)
        if worst is not None and not at_least(worst.score, 1.0):
            assert not view.surely_held(courses)
