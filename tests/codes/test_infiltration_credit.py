"""The credit for infiltration: who gets it, how much of it, and what is said where it cannot be given."""

import attrs
import pytest

from tests.codes.houses import BY_RATIO, CFM_M3S, INFILTRATING, asked, house, leak, left_for_fans, sample_house
from ventrules.codes import Infiltrated, System, counted_infiltration
from ventrules.files import load_code
from ventrules.job import Dwelling, Leakage
from ventrules.units import Airflow, Area, Factor, Length

TESTED = leak(3.0, height="9.75 ft")
DENVER = 0.59
ACROSS = 0.005  # constants are printed rounded: 7.3, 8.2 ft, 0.052


def test_california_assumes_two_air_changes_where_nothing_was_measured() -> None:
    # California statewide code team, 2019: 2 air changes per hour at 50 Pa, so Q50 = V x 2 / 60: 720 cfm here.
    untested, tested = sample_house(Leakage(stories=Factor(1.0))), sample_house(leak(2.0, stories=1.0))
    for code in ("us-ca-2019", "us-ca-2022"):
        assert left_for_fans(load_code(code), untested, 0.38) == left_for_fans(load_code(code), tested, 0.38)
        required = left_for_fans(load_code(code), untested, 0.38)
        assert required.steps[1].airflow_m3s == pytest.approx(720 * CFM_M3S, rel=1e-9)
        assert required.infiltration_m3s / CFM_M3S == pytest.approx(0.052 * 0.38 * 720, rel=ACROSS)


def test_the_2010_credit_is_half_of_what_exceeds_the_default() -> None:
    # ASHRAE 62.2-2010, existing buildings: half of measured infiltration less 2 cfm for each 100 ft2.
    test = Leakage(Airflow.parse("1500 cfm"), height=Length.parse("17 ft"))
    dwelling = attrs.evolve(house("1000 ft2", 2), leakage=test)
    name, system = "existing-building", System(wsf=0.63)
    plain = asked("ashrae-62.2-2010", dwelling, system=system)
    assert plain.continuous_m3s / CFM_M3S == pytest.approx(32.5, rel=1e-12)
    assert plain.infiltration_m3s == 0.0
    required = asked("ashrae-62.2-2010", dwelling, claimed=(name,), earned=(name,), system=system)
    # Computed: Qinf 66.03 cfm by Eq. 4.5a; (66.03 - 20) / 2 = 23.01; 32.5 - 23.01.
    infiltration = 0.283316 * 1500 * (4 / 50) ** 0.65 / 144 * (17 / 8.2) ** 0.4 * 0.63 / 7.3 * 1000
    assert infiltration == pytest.approx(66.03, abs=0.01)
    assert required.infiltration_m3s / CFM_M3S == pytest.approx(23.01, abs=0.01)
    assert required.continuous_m3s / CFM_M3S == pytest.approx(9.49, abs=0.01)
    # Tighter than the default: nothing is added for it.
    tight = attrs.evolve(dwelling, leakage=attrs.evolve(test, airflow_50pa=Airflow.parse("300 cfm")))
    assert asked(
        "ashrae-62.2-2010", tight, claimed=(name,), earned=(name,), system=system
    ).continuous_m3s == pytest.approx(32.5 * CFM_M3S, rel=1e-12)


@pytest.mark.parametrize("code", ["ashrae-62.2-2016", *BY_RATIO])
def test_attached_dwellings_earn_by_the_exterior_part(code: str) -> None:
    # ASHRAE 62.2-2016, 4.1.2, as reprinted; ANSI/RESNET/ICC 301: exterior part of the enclosure over all of it.
    whole = left_for_fans(load_code(code), sample_house(TESTED), DENVER)
    for part in (1.0, 0.6, 0.25):
        attached = attrs.evolve(sample_house(TESTED), attached=True, exterior_part=part)
        required = left_for_fans(load_code(code), attached, DENVER)
        assert required.infiltration_m3s == pytest.approx(part * whole.infiltration_m3s, rel=1e-12)
        assert required.continuous_m3s == pytest.approx(whole.total_m3s - part * whole.infiltration_m3s, rel=1e-12)


def _found(code: str, dwelling: Dwelling, wsf: float | None) -> Infiltrated:
    return counted_infiltration(load_code(code), dwelling, System(wsf=wsf), frozenset({"existing-building"}))


BARE = Dwelling(Area.parse("2700 ft2"), 3)
NO_CREDIT = "no infiltration is credited; "
VOLUME, HEIGHT = "the dwelling's volume", "the height or the stories of the test"
WSF = "the weather and shielding factor"


@pytest.mark.parametrize("code", INFILTRATING)
@pytest.mark.parametrize(
    ("leakage", "wsf", "missing"),
    [
        (leak(3.0, stories=2.0), 0.59, [VOLUME]),
        (Leakage(Airflow.parse("1080 cfm")), 0.59, [HEIGHT]),
        (Leakage(Airflow.parse("1080 cfm"), stories=Factor(2.0)), None, [WSF]),
        (leak(3.0), 0.59, [VOLUME, HEIGHT]),
        (leak(3.0), None, [VOLUME, HEIGHT, WSF]),
    ],
)
def test_what_is_missing_is_said_and_nothing_is_credited(
    code: str, leakage: Leakage, wsf: float | None, missing: list[str]
) -> None:
    found = _found(code, attrs.evolve(BARE, leakage=leakage), wsf)
    assert (found.airflow_m3s, found.steps) == (0.0, ())
    assert found.remark.startswith(f"{NO_CREDIT}missing: ")
    for what in (VOLUME, HEIGHT, WSF):
        assert (what in found.remark) is (what in missing)
    claimed = ("existing-building",)
    required = asked(code, attrs.evolve(BARE, leakage=leakage), claimed=claimed, earned=claimed, system=System(wsf=wsf))
    assert required.remarks == (found.remark,)
    assert required.continuous_m3s == required.total_m3s


@pytest.mark.parametrize("code", [code for code in INFILTRATING if not code.startswith("us-ca-")])
def test_a_test_without_its_airflow_is_no_test(code: str) -> None:
    found = _found(code, sample_house(Leakage(stories=Factor(2.0))), 0.59)
    assert found == Infiltrated(0.0, remark=f"{NO_CREDIT}missing: the test's airflow at 50 Pa")


@pytest.mark.parametrize("code", INFILTRATING)
def test_nothing_is_missed_where_nothing_was_measured_or_all_is_known(code: str) -> None:
    if not code.startswith("us-ca-"):
        assert _found(code, BARE, None) == Infiltrated(0.0)
    else:
        assert _found(code, BARE, None).remark
    full = _found(code, sample_house(leak(15.0, stories=2.0)), 0.59)
    assert full.remark == ""
    assert full.airflow_m3s > 0.0
    assert asked(code, sample_house(leak(15.0, stories=2.0)), system=System(wsf=0.59)).remarks == ()


def test_attached_dwellings_that_earn_nothing_are_told_why() -> None:
    attached = attrs.evolve(sample_house(TESTED), attached=True)
    assert _found("ashrae-62.2-2013", attached, 0.59).remark == f"{NO_CREDIT}the dwelling is attached"
    for code in ("ashrae-62.2-2016", *BY_RATIO):
        remark = f"{NO_CREDIT}missing: the exterior part of the boundary of an attached dwelling"
        assert _found(code, attached, 0.59) == Infiltrated(0.0, remark=remark)


def test_codes_without_the_credit_do_not_look_at_leakage() -> None:
    for code in ("us-irc-2024", "us-wa-2021", "us-mn", "gb-eng-2021"):
        assert load_code(code).infiltration is None
        assert asked(code, sample_house(TESTED), system=System(wsf=0.59)) == asked(
            code, attrs.evolve(sample_house(TESTED), leakage=None)
        )
