"""What codes state beside a rate: what counts, in which hours, over which period, and the weather of a place."""

from typing import TypeAlias

import pytest

from tests.codes.houses import CFM_M3S, LS_M3S, STANDARD, asked, house
from ventrules.codes import Counts
from ventrules.files import load_code
from ventrules.files.code_files import stations
from ventrules.files.resources import code_names
from ventrules.job import Occupancy, RoomKind

HOUSE = house("2400 ft2", 3)
KITCHEN, BATHROOM, TOILET = RoomKind.KITCHEN, RoomKind.BATHROOM, RoomKind.TOILET

# ASHRAE 62.2, weather and shielding factors, as shipped with the rating library of the National Renewable Energy
# Laboratory. Denver, Miami and Honolulu are also in that library's tests.
FACTORS = {
    "702730": 0.71, "702610": 0.70, "726580": 0.63, "727450": 0.70, "725300": 0.60, "725340": 0.56,
    "725650": 0.59, "724660": 0.63, "725720": 0.61, "727720": 0.63, "722780": 0.43, "723860": 0.55,
    "722020": 0.41, "722110": 0.37, "727930": 0.56, "726980": 0.52, "725090": 0.66, "725370": 0.60,
    "725280": 0.65, "725180": 0.61, "726170": 0.61, "744860": 0.57, "724050": 0.51, "723170": 0.43,
    "723140": 0.43, "723060": 0.43, "724340": 0.54, "724460": 0.60, "722590": 0.53, "722430": 0.42,
    "722190": 0.46, "722956": 0.38, "722880": 0.39, "911820": 0.42,
}  # fmt: skip


def test_weather_and_shielding_factors() -> None:
    assert {number: station.wsf for number, station in stations().stations.items()} == FACTORS
    names = {number: stations().stations[number].name for number in ("725650", "722020", "911820")}
    assert names == {"725650": "Denver Intl CO", "722020": "Miami Intl FL", "911820": "Honolulu HI"}
    # Los Angeles Intl is not in the library's table; it is not guessed here either.
    assert "722950" not in stations().stations


# What counts, and when

COUNTS = {
    # International Residential Code 2021 and 2024, R202, and those that follow it: airflow of a balanced system is
    # the average of supply and exhaust. 2015 and 2018 name none: the outdoor air supplied (common practice).
    Counts.MEAN: {"us-irc-2021", "us-irc-2024", "us-fl-2023", "us-nc-2021", "us-ny-2024", "us-or-2021", "us-wa-2021"}
    | {"us-imc-2024"},
    Counts.SUPPLY: {"us-irc-2015", "us-irc-2018", "us-ak-2018", "us-mn"},
    # ASHRAE 62.2-2010, 4.5: the larger of average supply and average exhaust; California adopts it.
    Counts.LARGER: {"ashrae-62.2-2010", *STANDARD, "us-ca-2019", "us-ca-2022"},
    # British Columbia, Ontario and France rate the exhaust.
    Counts.EXHAUST: {"ca-bc-2024", "ca-on-332-12", "fr-1982"},
    # Asked of supply and of extract, or the text does not say: the lesser.
    Counts.LESSER: {"csa-f326", "de-din-1946-6-2009", "dk-br18", "fi-2018", "gb-eng-2021", "ie-2019", "nl-2012"}
    | {"no-tek10", "no-tek17", "se-bbr"},
}
# Texts without a rule for an empty dwelling are held while it is occupied or on standby (common practice); TEK17
# s. 13-2 (1) asks for its average in a dwelling that is lived in. All others exempt no hours.
NOT_WHEN_EMPTY = {"us-ak-2018", "us-fl-2023", "us-imc-2024", "us-irc-2015", "us-irc-2018", "us-irc-2021"} | {
    *("us-irc-2024", "us-nc-2021", "us-ny-2024", "us-or-2021", "us-wa-2021", "no-tek17")
}
CAPACITY = {"ca-on-332-12", "csa-f326", "nl-2012"}


def test_what_counts() -> None:
    found = {counts: {name for name in code_names() if load_code(name).counts is counts} for counts in Counts}
    assert found == COUNTS


@pytest.mark.parametrize("name", code_names())
def test_in_which_hours_it_is_held(name: str) -> None:
    hours = set() if name in CAPACITY else set(Occupancy)
    assert set(load_code(name).judged) == hours - ({Occupancy.UNOCCUPIED} if name in NOT_WHEN_EMPTY else set())


@pytest.mark.parametrize(
    ("code", "window_s"),
    [
        ("ashrae-62.2-2010", 3 * 3600),  # 4.5: at least once in 3 h
        ("ashrae-62.2-2016", 3 * 3600),  # 4.5, from memory
        ("us-ca-2019", 3 * 3600),
        ("us-irc-2015", 4 * 3600),  # M1507.3.3: each 4-hour segment
        ("us-irc-2024", 4 * 3600),  # M1505.4.3
        ("us-wa-2021", 4 * 3600),  # M1505.4.3.2
        ("us-imc-2024", 4 * 3600),  # 403.3.2: 1 h in each 4 h, the same average
        ("us-mn", 3600),  # N1104.2: hourly
    ],
)
def test_over_which_period(code: str, window_s: float) -> None:
    assert asked(code, HOUSE).window_s == window_s


@pytest.mark.parametrize(
    ("code", "least"),
    [("us-irc-2024", 0.25), ("us-wa-2021", 0.50), ("us-imc-2024", 0.25), ("ashrae-62.2-2010", 0.0), ("us-mn", 0.0)],
)
def test_least_share_of_run_time(code: str, least: float) -> None:
    # Table M1505.4.3(2); WAC 51-51, M1505.4.3.2: 2 h of 4 h; IMC 403.3.2: 1 h in each 4 h.
    assert asked(code, HOUSE).least_share == pytest.approx(least)


@pytest.mark.parametrize("code", STANDARD[1:])
def test_exposure_limits(code: str) -> None:
    # ASHRAE 62.2-2016 and later, Normative Appendix C: mean 1 (from memory), never above 5.
    exposure = asked(code, HOUSE).exposure
    assert exposure is not None
    assert (exposure.mean, exposure.peak, exposure.hours) == (1.0, 5.0, tuple(Occupancy))


# Local exhaust, recovery and fan power beside the rate

Printed: TypeAlias = dict[RoomKind, tuple[int, int | None]]
NORWAY: Printed = {KITCHEN: (108, None), BATHROOM: (108, None), RoomKind.LAUNDRY: (72, None), TOILET: (36, None)}
MODEL: Printed = {KITCHEN: (100, 25), BATHROOM: (50, 20), TOILET: (50, 20)}
EXHAUST: dict[str, tuple[str, Printed]] = {
    # Kind of room to demand and continuous airflow, as printed.
    "ca-bc-2024": ("L/s", {KITCHEN: (47, None), BATHROOM: (23, 9)}),  # Table 9.32.3.6
    "gb-eng-2021": (  # Table 1.2, high rate
        "L/s",
        {KITCHEN: (13, None), RoomKind.UTILITY: (8, None), BATHROOM: (8, None), TOILET: (6, None)},
    ),
    "dk-br18": ("L/s", {BATHROOM: (15, None)}),  # ss. 443 to 446
    "no-tek10": ("m3/h", NORWAY),  # guidance to s. 13-2, boosted
    "no-tek17": ("m3/h", NORWAY),  # the same (from memory)
    "us-irc-2015": ("cfm", MODEL),  # M1507.4
    "us-irc-2018": ("cfm", MODEL),  # M1505.4.4
    "us-irc-2021": ("cfm", MODEL),  # M1505.4.4
    "us-irc-2024": ("cfm", MODEL),  # M1505.5
    "us-imc-2024": ("cfm", MODEL),  # 403.3.2
    "us-wa-2021": ("cfm", {KITCHEN: (160, None), BATHROOM: (50, 20), TOILET: (50, 20)}),  # M1505.4.4
}


@pytest.mark.parametrize("code", EXHAUST)
def test_local_exhaust(code: str) -> None:
    unit, printed = EXHAUST[code]
    found: dict[RoomKind, tuple[float, float | None]] = {}
    for line in load_code(code).local_exhaust:
        for kind in line.rooms:
            assert kind not in found
            found[kind] = line.demand.to(unit), None if line.continuous is None else line.continuous.to(unit)
    assert found.keys() == printed.keys()
    for kind, (demand, continuous) in printed.items():
        assert found[kind][0] == pytest.approx(demand)
        assert found[kind][1] == (None if continuous is None else pytest.approx(continuous))


@pytest.mark.parametrize(
    ("code", "sensible", "watts_for_each_l_s"),
    [
        # Approved Document L volume 1, 2021, 6.55 d and 6.56; TGD F/L practice restated in the trade press, 2019.
        ("gb-eng-2021", (0.73,), 1.5),
        ("ie-2019", (0.70,), 1.2),
        # IECC R403.6, fan efficacy: 1.2 cfm for each W; 65 % from 2021 on.
        ("us-irc-2018", (), LS_M3S / CFM_M3S / 1.2),
        ("us-irc-2021", (0.65,), LS_M3S / CFM_M3S / 1.2),
        ("us-irc-2024", (0.65,), LS_M3S / CFM_M3S / 1.2),
        # California 2022: at most 1.0 W for each cfm.
        ("us-ca-2022", (), LS_M3S / CFM_M3S),
    ],
)
def test_recovery_and_fan_power(code: str, sensible: tuple[float, ...], watts_for_each_l_s: float) -> None:
    found = load_code(code)
    assert found.efficacy is not None
    assert tuple(least.sensible for least in found.recovery) == sensible
    assert found.efficacy.power.w / (found.efficacy.airflow.m3s / LS_M3S) == pytest.approx(watts_for_each_l_s)


def test_no_local_exhaust_and_no_fan_power_is_passed_over() -> None:
    assert {name for name in code_names() if load_code(name).local_exhaust} == set(EXHAUST)
    powered = {"gb-eng-2021", "ie-2019", "us-irc-2018", "us-irc-2021", "us-irc-2024", "us-ca-2022"}
    assert {name for name in code_names() if load_code(name).efficacy is not None} == powered
