"""The plan against every program there is: nothing that the rules let pass costs less, and the plan itself passes.

What passes is the verdict of the whole rule set, run on the job with those programs; what they cost is worked out by
plain arithmetic. The grids are small, so that every setting can be gone through.
"""

import pytest
from hypothesis import assume, event, given, settings
from hypothesis import strategies as st

from tests.planner.exhaustive import POWER, TIE, Costs, Feasible, cheaper, every_setting, setting_of
from tests.planner.jobs import OWN, Case, cases, codes_of, document
from tests.planner.planner import Least, Plan, plan
from ventrules.codes import CodeKind
from ventrules.files import load_code
from ventrules.files.resources import code_names
from ventrules.survey import Survey

MOST = 130  # settings of one job
KINDS = ("capacity", "continuous", "average", "segment-factors", "average-with-floor", "levels", "exposure")
some = settings(max_examples=max(settings().max_examples * 4 // 10, 5))
orders = st.sampled_from(list(Least))


def checked(case: Case, least: Least) -> Plan:
    """Plan a job, hold the plan against exhaustive search, and return it."""
    job = case.job
    found = plan(job, least=least, hold=case.hold)
    feasible, costs = Feasible(job, case.hold), Costs(job, case.grid.cycle.s)
    # a stage over the code's power is not used for more than what is held, though that brings no other error
    assume(all(rule != POWER for rule, _place in feasible.brought))
    every = every_setting(job, case.grid, case.hold)
    event("found" if found.found else "nothing found")
    event(f"through relative exposure: {any(season.by_exposure for season in found.seasons)}")
    event(f"windows over several modes: {any(view.only_in_windows for view in Survey(job).mode_seasons)}")
    if not found.found:
        assert found.missing or found.shortage is not None
        passed = [setting for setting in every if feasible(setting)]
        assert not passed, f"{found.missing or found.shortage}, but {min(passed, key=costs.of)} passes"
        return found
    planned, cooling = setting_of(found.job), setting_of(found.job, "cooling")
    assert planned == cooling  # what stays was the same in both seasons
    cost = costs.of(planned)
    assert feasible(planned)
    less = [setting for setting in every if cheaper(costs.of(setting), cost, least.columns)]
    better = [setting for setting in less if feasible(setting)]
    assert not better, f"{cost} for {planned}; {costs.of(better[0])} for {better[0]} passes"
    assert found.proved
    return found


@pytest.mark.parametrize("kind", KINDS[1:])
@some
@given(data=st.data(), least=orders)
def test_nothing_that_passes_costs_less_than_the_plan(kind: str, data: st.DataObject, least: Least) -> None:
    checked(data.draw(st.sampled_from(codes_of(kind)).flatmap(lambda name: cases(name, most=MOST))), least)


@some
@given(cases(OWN, most=MOST), orders)
def test_nothing_that_passes_costs_less_than_the_plan_for_ones_own_target(case: Case, least: Least) -> None:
    checked(case, least)


def by_balance() -> list[str]:
    """Return the codes in which what is asked can turn on whether the stages in use are balanced."""
    loaded = {name: load_code(name) for name in code_names()}
    return [
        name
        for name, code in loaded.items()
        if code.kind is not CodeKind.CAPACITY
        and (code.infiltration is not None or code.must_balance is not None or len(code.credits) > 0)
    ]


@some
@given(st.sampled_from(by_balance()).flatmap(lambda name: cases(name, most=MOST, doubtful=True)), orders)
def test_which_stages_out_of_balance_are_used_is_weighed_as_well(case: Case, least: Least) -> None:
    checked(case, least)


@given(orders)
def test_modes_shorter_than_a_cycle_have_more_air_than_their_cycles_on_average(least: Least) -> None:
    # each half hour begins a cycle anew: half a cycle at low never stops, as relative exposure sees it
    halves = {f"{hour:02d}:{minute:02d}": mode for hour in range(24) for minute, mode in ((0, "day"), (30, "night"))}
    written = document(
        ["demo-erv-130"],
        {"day": "occupied", "night": "occupied"},
        dwelling={"floor_area": "1000 ft2", "bedrooms": 2, "ceiling_height": "8 ft"},
        target={"code": "ashrae-62.2-2022"},
        calendar={"every-day": halves},
    )
    found = checked(Case(written, 60.0, 30.0, 1), least)
    if least is Least.AIR:
        assert all(season.by_exposure for season in found.seasons)
        assert setting_of(found.job) == {("ventilator", mode): {"low": 30.0} for mode in ("day", "night")}


@some
@given(st.sampled_from([OWN, *code_names()]).flatmap(lambda name: cases(name, most=MOST)), orders)
def test_what_a_plan_says_it_costs_is_what_it_costs(case: Case, least: Least) -> None:
    found = plan(case.job, least=least, hold=case.hold)
    for season in found.seasons:
        cost = Costs(found.job, case.grid.cycle.s).of(setting_of(found.job, season.season.value))
        told = (season.delivered_m3s, season.power_w or 0.0, season.changes_per_hour)
        assert told == pytest.approx(cost, rel=TIE, abs=1e-12)


@settings(max_examples=5)
@given(data=st.data())
def test_a_capacity_is_left_to_the_people(data: st.DataObject) -> None:
    case = data.draw(st.sampled_from(codes_of("capacity")).flatmap(lambda name: cases(name, most=MOST)))
    job = case.job
    found = plan(job, hold=case.hold)
    assert not found.found
    assert found.missing
    assert found.job is job
