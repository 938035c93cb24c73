"""What is asked of a dwelling: by its own target, by every code, and what keeps it from being told."""

import re
from collections.abc import Mapping
from typing import Any, Final

import attrs
import pytest

import ventrules
from tests.bench.sample import SIX_DEVICES
from tests.cli.running import FAULTY, SOUND
from ventrules import Asked, Job, UnknownRequirementError, asked, every_requirement, job_from_document, read_job
from ventrules.codes import Clause, CodeKind
from ventrules.files import load_code
from ventrules.files.resources import code_names, packaged
from ventrules.job import Origin, Route, Season, Target
from ventrules.sources import Known
from ventrules.survey.under import Comparison
from ventrules.targets import clauses_of, target_sheet, weakest
from ventrules.units import Airflow, Length, Period

SAMPLE: Final[dict[str, Any]] = SIX_DEVICES


def job(**changes: Mapping[str, Any]) -> Job:
    """The job of six devices with some of its parts changed."""
    return job_from_document({**SAMPLE, **{part: {**SAMPLE.get(part, {}), **new} for part, new in changes.items()}})


def with_programs(**programs: Mapping[str, Mapping[str, str]]) -> Job:
    ventilator = {**SAMPLE["settings"]["ventilator"], "programs": programs}
    return job(settings={"ventilator": ventilator})


def under(found: tuple[Asked, ...], name: str) -> Asked:
    return next(one for one in found if one.name == name)


# The job's own


def test_the_requirement_of_a_job_is_its_code_s() -> None:
    """0.01 x 2150 + 7.5 x (3 + 1) = 51.5 cfm (IRC 2021, Equation 15-1 of M1505.4.3)."""
    found = ventrules.requirement(job())
    assert Airflow.shown(found.continuous_m3s, "cfm").to("cfm") == pytest.approx(51.5)
    assert found.kind is CodeKind.SEGMENT_FACTORS
    own = asked(job())
    assert own.requirement == found
    assert own.name == "us-irc-2021"
    assert own.missing == ""


def test_a_target_of_its_own_needs_no_code() -> None:
    own = Target(airflow=Airflow.of(75.0, "cfm"), window=Period.of(4.0, "h"))
    mine = attrs.evolve(job(), target=own)
    assert ventrules.requirement(mine).continuous_m3s == pytest.approx(Airflow.of(75.0, "cfm").m3s)
    found = asked(mine)
    assert found.code is None
    assert found.name == ""
    assert found.known is Known.JOB
    assert [week.season for week in found.weeks] == list(Season)
    assert [week.met for week in found.weeks] == [False, False]


def test_what_is_missing_is_said_and_raised() -> None:
    poor = job(target={"code": "csa-f326"})
    with pytest.raises(UnknownRequirementError, match=r"dwelling\.rooms"):
        ventrules.requirement(poor)
    found = asked(poor)
    assert found.requirement is None
    assert found.known is None
    assert found.bases == ()
    assert found.weeks == ()
    assert "dwelling.rooms" in found.missing


# Every code


def test_every_packaged_code_answers_in_order() -> None:
    every = every_requirement(job())
    assert [one.name for one in every] == list(code_names())
    for one in every:
        assert (one.requirement is None) == bool(one.missing)
        assert (one.requirement is None) == (one.known is None)
        assert len(one.weeks) == (0 if one.requirement is None else 2)


def test_some_published_rates_stand_side_by_side() -> None:
    """2000 ft2 and 3 bedrooms: 62.2-2019, Eq. 4.1a: 90 cfm; IRC 2021, Equation 15-1: 50 cfm; N1104.2: 100 cfm."""
    every = every_requirement(job(dwelling={"floor_area": "2000 ft2"}))
    expected = {"ashrae-62.2-2019": 90.0, "ashrae-62.2-2010": 50.0, "us-irc-2021": 50.0, "us-mn": 100.0}
    for name, cfm in expected.items():
        found = under(every, name).requirement
        assert found is not None
        assert found.total_m3s == pytest.approx(Airflow.of(cfm, "cfm").m3s, rel=1e-9)


def test_the_job_s_own_code_says_the_same_as_among_all() -> None:
    for path in sorted(SOUND.glob("number-*")):
        one = read_job(path)
        if one.target.code in code_names():
            assert under(every_requirement(one), one.target.code) == asked(one), path.name


def test_a_claimed_credit_counts_where_a_code_knows_it() -> None:
    """70 % where the credit is known (IRC 2021, M1505.4.3, Exception 1), unchanged elsewhere."""
    plain, claimed = every_requirement(job()), every_requirement(job(target={"credits": ["balanced-ducted"]}))
    some = set()
    for before, after in zip(plain, claimed, strict=True):
        if before.requirement is None or after.requirement is None or before.code is None:
            continue
        credit = before.code.credits.get("balanced-ducted")
        share = credit.factor if credit is not None else 1.0
        assert after.requirement.continuous_m3s == pytest.approx(share * before.requirement.continuous_m3s)
        some.add(share)
    assert some == {0.7, 1.0}


def test_a_credit_is_earned_by_each_code_s_own_balance() -> None:
    """Supply 70, exhaust 58 cfm: 9.4 % from their mean (IRC 2021, R202: 10 %); 17 % of supply."""
    readings = {"ventilator": {"low": {"supply": "70 cfm", "exhaust": "58 cfm"}}}
    found = job(target={"credits": ["balanced-ducted"]}, readings=readings)
    compared = Comparison(ventrules.Survey(found))
    balanced = {name: compared.system(load_code(name)).balanced for name in ("us-irc-2021", "us-wa-2021")}
    assert balanced == {"us-irc-2021": True, "us-wa-2021": False}


def test_a_route_counts_where_a_code_offers_it() -> None:
    """IRC 2021 by table: 60 cfm (Table M1505.4.3(1)); Minnesota has no table."""
    every = every_requirement(job(target={"route": "table"}))
    by_table, without = under(every, "us-irc-2021").requirement, under(every, "us-mn").requirement
    assert by_table is not None
    assert without is not None
    assert by_table.route is Route.TABLE
    assert by_table.continuous_m3s == pytest.approx(Airflow.of(60.0, "cfm").m3s)
    assert without.route is Route.EQUATION


def test_a_job_without_a_calendar_has_requirements_and_no_weeks() -> None:
    quiet = job_from_document({key: value for key, value in SAMPLE.items() if key != "calendar"})
    every = every_requirement(quiet)
    assert any(one.requirement is not None for one in every)
    assert all(one.weeks == () for one in every)
    assert target_sheet(quiet).seasons == ()
    assert any("calendar" in missing for missing in target_sheet(quiet).missing)


def test_a_job_without_ventilators_can_be_asked() -> None:
    bare = job_from_document(
        {key: SAMPLE[key] for key in ("ventrules", "job", "catalogs", "dwelling", "target", "modes", "calendar")}
        | {"devices": {"control": {"model": "demo-control"}}}
    )
    for one in every_requirement(bare):
        for week in one.weeks:
            assert week.window is None
            assert week.exposure is None
            assert week.met is (False if one.code is not None and one.code.kind is CodeKind.CAPACITY else None)
    (missing, *_others) = target_sheet(bare).seasons[0].missing
    assert "no ventilator" in missing


def test_a_rate_of_nothing_is_always_met() -> None:
    text = packaged("codes", "us-irc-2021.toml").read_text(encoding="utf-8")
    nothing = re.sub(r'"\d+ cfm"', '"0 cfm"', text).replace('"0.01 cfm"', '"0 cfm"').replace('"7.5 cfm"', '"0 cfm"')
    own = attrs.evolve(job(), code_file=Origin("nothing.toml", nothing), target=Target(code="nothing.toml"))
    found = asked(own)
    assert found.requirement is not None
    assert found.requirement.continuous_m3s == 0.0
    assert [week.met for week in found.weeks] == [True, True]
    assert [week.exposure for week in found.weeks] == [None, None]


# How well it is known


def test_the_weakest_way_of_knowing() -> None:
    order = [Known.SEEN, Known.SECOND_HAND, Known.COMMON_PRACTICE, Known.FROM_MEMORY]
    for best, better in enumerate(order):
        for worse in order[best:]:
            assert weakest([better, worse]) is worse
            assert weakest([worse, better]) is worse
    assert weakest(Known) is Known.FROM_MEMORY
    assert weakest([]) is None


@pytest.mark.parametrize("name", code_names())
def test_every_clause_of_a_file_is_found_once(name: str) -> None:
    text = packaged("codes", f"{name}.toml").read_text(encoding="utf-8")
    found = clauses_of(load_code(name))
    assert len(found) == len(re.findall(r"\bknown = \"", text)) >= 3
    assert all(isinstance(clause, Clause) for clause in found)


def test_what_it_rests_on_is_what_it_is_known_by() -> None:
    for one in every_requirement(job()):
        assert one.known is weakest(basis.known for basis in one.bases)
        assert len(set(one.bases)) == len(one.bases)
        if one.requirement is not None and one.requirement.from_memory:
            assert one.known is Known.FROM_MEMORY


# The sheet of one job


def test_a_sheet_says_what_its_seasons_come_to() -> None:
    sheet = target_sheet(job())
    assert sheet.unit == "cfm"
    assert sheet.alike
    for season in sheet.seasons:
        assert season.missing == ()
        assert season.still is not None
        assert season.still.share_present == pytest.approx(10.0 / 60.0, abs=0.02)
        assert season.still.share_absent == 1.0
        assert season.still.longest_absent_s == pytest.approx(8.5 * 3600.0)
        assert len(season.homecomings) == 5
        assert all(coming.exposure > 1.1 for coming in season.homecomings)
        assert all(coming.recovery_s for coming in season.homecomings)


def test_time_without_ventilation_leaves_infiltration_aside() -> None:
    tested = job(
        dwelling={"leakage": {"air_changes_50pa": 3.0, "stories": 2}},
        site={"weather_shielding": 0.6},
        target={"code": "ashrae-62.2-2019"},
    )
    sheet = target_sheet(tested)
    assert sheet.asked.requirement is not None
    assert sheet.asked.requirement.infiltration_m3s > 0.0
    for season in sheet.seasons:
        assert season.still is not None
        assert season.still.share_absent == 1.0


def test_seasons_that_differ_are_told_apart() -> None:
    same = {"heating": {"low": "50 min"}, "cooling": {"low": "50 min"}}
    varied = with_programs(day={**same, "cooling": {"low": "60 min"}}, night=same, out={"heating": {}, "cooling": {}})
    assert not target_sheet(varied).alike
    assert target_sheet(with_programs(day=same, night=same, out={"heating": {}, "cooling": {}})).alike


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("controller-decides.yaml", "left to its controller for mode"),
        ("night-without-cooling-program.yaml", "has no program for mode night"),
        ("stage-of-another-model.yaml", "has no stage"),
        ("more-minutes-than-the-hour.yaml", "do not fit into its cycle"),
        ("calendar-gap.yaml", "says nothing for some hours"),
        ("nobody-ever-at-home.yaml", "no mode of the week"),
    ],
)
def test_what_keeps_the_week_from_being_told_is_said(name: str, said: str) -> None:
    sheet = target_sheet(read_job(FAULTY / name))
    assert any(said in missing for season in sheet.seasons for missing in season.missing)


def test_relative_exposure_needs_the_volume() -> None:
    flat = attrs.evolve(job(), dwelling=attrs.evolve(job().dwelling, ceiling_height=None))
    for season in target_sheet(flat).seasons:
        assert season.week.exposure is None
        assert season.homecomings == ()
        assert season.still is not None
        assert any("dwelling.ceiling_height" in missing for missing in season.missing)
    high = attrs.evolve(flat, dwelling=attrs.evolve(flat.dwelling, ceiling_height=Length.of(2.6, "m")))
    assert all(season.week.exposure is not None for season in target_sheet(high).seasons)
