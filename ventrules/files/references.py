"""Names that must exist: checked on the plain document, so that they are reported beside other problems."""

import re
from collections.abc import Collection, Iterator, Mapping
from typing import Final

import attrs

from ventrules.engine import Path
from ventrules.engine.findings import Document
from ventrules.files.code_files import CODE_SUFFIX, stations
from ventrules.files.problems import Problem, names_hint, unknown
from ventrules.files.resources import code_names
from ventrules.job import Model, Role
from ventrules.words import clipped, shown

DAYS: Final = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
GROUPS: Final[Mapping[str, tuple[str, ...]]] = {
    "every-day": DAYS,
    "weekdays": DAYS[:5],
    "weekend": DAYS[5:],
}
_NAME: Final = re.compile(r"\w[\w +-]{0,62}")
_TIME: Final = re.compile(r"([01][0-9]|2[0-3]):[0-5][0-9]")


def reference_problems(
    document: Mapping[str, Document], models: Mapping[str, Model], *, whole: bool = True
) -> list[Problem]:
    """Return every reference in a job document to something that does not exist.

    Args:
        document: The job document; parts of the wrong shape are left to the shape check.
        models: The models of the job's catalogs.
        whole: False when a catalog could not be used; models and stages are then not looked up.
    """
    return list(_References(document, models, whole=whole).problems())


def _mapping(value: Document) -> Mapping[str, Document]:
    return value if isinstance(value, dict) else {}


class _References:
    def __init__(self, document: Mapping[str, Document], models: Mapping[str, Model], *, whole: bool) -> None:
        self._whole = whole
        self._models = models
        self._devices = _mapping(document.get("devices"))
        self._model_of = {
            name: models[model]
            for name, device in self._devices.items()
            if isinstance(device, dict) and isinstance(model := device.get("model"), str) and model in models
        }
        self._modes = _mapping(document.get("modes"))
        self._cables = document.get("cables")
        self._calendar = _mapping(document.get("calendar"))
        self._settings = _mapping(document.get("settings"))
        self._readings = _mapping(document.get("readings"))
        self._voltages = _mapping(document.get("voltages"))
        self._indicators = _mapping(document.get("indicators"))
        self._instruments = _mapping(document.get("instruments"))
        self._target = document.get("target")
        self._dwelling = _mapping(document.get("dwelling"))
        self._site = _mapping(document.get("site"))
        self._stages = frozenset(stage for model in models.values() for stage in model.stages)

    def problems(self) -> Iterator[Problem]:
        yield from self._device_problems()
        yield from self._cable_problems()
        for mode in self._modes:
            yield from _bad_name(mode, ("modes", mode))
        yield from self._calendar_problems()
        yield from self._settings_problems()
        yield from self._readings_problems()
        for end in self._voltages:
            yield from (attrs.evolve(problem, at_key=True) for problem in self._end_problems(end, ("voltages", end)))
        yield from self._indicator_problems()
        for name, accuracy in self._instruments.items():
            if accuracy == {}:
                said = "says nothing; expected an accuracy, or leave it out"
                yield Problem(said, ("instruments", name), at_key=True)
        yield from self._target_problems()
        yield from self._dwelling_problems()
        yield from self._site_problems()

    def _device_problems(self) -> Iterator[Problem]:
        for name, device in self._devices.items():
            yield from _bad_name(name, ("devices", name))
            model = _mapping(device).get("model")
            if self._whole and isinstance(model, str) and model not in self._models:
                if not self._models:
                    yield Problem(
                        f"unknown model {clipped(model)!r}: no catalog could be used; name one under `catalogs`",
                        ("devices", name, "model"),
                    )
                else:
                    yield unknown("model", model, self._models, ("devices", name, "model"))
            known = self._model_of.get(name)
            for port in _mapping(_mapping(device).get("ports")):
                if known is not None and port not in known.ports:
                    yield _lacking(name, "port", port, known.ports, ("devices", name, "ports", port), at_key=True)

    def _cable_problems(self) -> Iterator[Problem]:
        if not isinstance(self._cables, list):
            return
        for number, cable in enumerate(self._cables):
            ends = _mapping(cable)
            for key in ("from", "to"):
                end = ends.get(key)
                if isinstance(end, str):
                    yield from self._end_problems(end, ("cables", number, key))
            if isinstance(ends.get("from"), str) and ends.get("from") == ends.get("to"):
                yield Problem("both ends are the same port; expected two", ("cables", number, "to"))

    def _end_problems(self, end: str, path: Path) -> Iterator[Problem]:
        device, dot, port = end.partition(".")
        if not dot:
            yield Problem(f"{clipped(end)!r} names no port; expected device.port", path)
        elif device not in self._devices:
            yield unknown("device", device, self._devices, path)
        elif (model := self._model_of.get(device)) is not None and port not in model.ports:
            yield _lacking(device, "port", port, model.ports, path)

    def _calendar_problems(self) -> Iterator[Problem]:
        for day, times in self._calendar.items():
            if day not in DAYS and day not in GROUPS:
                yield unknown("day", day, (*GROUPS, *DAYS), ("calendar", day), at_key=True)
            for time, mode in _mapping(times).items():
                path = ("calendar", day, time)
                if _TIME.fullmatch(time) is None:
                    yield Problem(f"{clipped(time)!r} is not a time of day; expected 00:00 to 23:59", path, at_key=True)
                if isinstance(mode, str) and mode not in self._modes:
                    yield unknown("mode", mode, self._modes, path)

    def _ventilator_problems(self, name: str, path: Path) -> Iterator[Problem]:
        if name not in self._devices:
            ventilators = [device for device, model in self._model_of.items() if model.role is Role.VENTILATOR]
            yield unknown("ventilator", name, ventilators, path, at_key=True)
        elif (model := self._model_of.get(name)) is not None and model.role is not Role.VENTILATOR:
            yield Problem(
                f"{clipped(name)!r} is no ventilator (its model is of role {model.role.value})",
                path,
                at_key=True,
            )

    def _settings_problems(self) -> Iterator[Problem]:
        for name, settings in self._settings.items():
            yield from self._ventilator_problems(name, ("settings", name))
            for mode, seasons in _mapping(_mapping(settings).get("programs")).items():
                path = ("settings", name, "programs", mode)
                if mode not in self._modes:
                    yield unknown("mode", mode, self._modes, path, at_key=True)
                for season, program in _mapping(seasons).items():
                    yield from self._stage_problems(_mapping(program), (*path, season))

    def _stage_problems(self, stages: Mapping[str, Document], path: Path) -> Iterator[Problem]:
        for stage in stages:
            if self._whole and stage not in self._stages:
                yield unknown("stage", stage, self._stages, (*path, stage), at_key=True)

    def _readings_problems(self) -> Iterator[Problem]:
        for name, readings in self._readings.items():
            yield from self._ventilator_problems(name, ("readings", name))
            model = self._model_of.get(name)
            for stage in _mapping(readings):
                if model is not None and model.role is Role.VENTILATOR and stage not in model.stages:
                    yield _lacking(name, "stage", stage, model.stages, ("readings", name, stage), at_key=True)

    def _indicator_problems(self) -> Iterator[Problem]:
        for name, seen in self._indicators.items():
            path = ("indicators", name)
            model = self._model_of.get(name)
            if name not in self._devices:
                yield unknown("device", name, self._devices, path, at_key=True)
            for indicator in _mapping(seen) if model is not None else ():
                if model is not None and indicator not in model.indicators:
                    yield _lacking(name, "indicator", indicator, model.indicators, (*path, indicator), at_key=True)

    def _target_problems(self) -> Iterator[Problem]:
        if not isinstance(self._target, dict):
            return
        given = {key for key, value in self._target.items() if value is not None}
        code = self._target.get("code")
        if isinstance(code, str) and code not in code_names() and not code.endswith(CODE_SUFFIX):
            yield unknown("code", code, code_names(), ("target", "code"), all_valid=True)
        if ("code" in given) == ("airflow" in given):
            yield Problem("expected either `code`, or `airflow` with `window`", ("target",))
        elif "code" in given and "window" in given:
            yield Problem("`window` comes from the code; leave it out", ("target", "window"), at_key=True)
        elif "airflow" in given and "window" not in given:
            yield Problem("missing `window`: the time over which the airflow is averaged", ("target",))
        if "airflow" in given:
            for key in sorted(given & {"route", "credits"}):
                yield Problem(f"`{key}` belongs to a code, not to a target of one's own", ("target", key), at_key=True)

    def _dwelling_problems(self) -> Iterator[Problem]:
        for name, room in _mapping(self._dwelling.get("rooms")).items():
            path = ("dwelling", "rooms", name)
            yield from _bad_name(name, path)
            by = _mapping(room).get("exhaust_by")
            if isinstance(by, str):
                for problem in self._ventilator_problems(by, (*path, "exhaust_by")):
                    yield attrs.evolve(problem, at_key=False)
        tested = _mapping(self._dwelling.get("leakage"))
        at = ("dwelling", "leakage")
        if {"airflow_50pa", "air_changes_50pa"} <= tested.keys():
            yield Problem("expected either `airflow_50pa` or `air_changes_50pa`", at)
        if {"height", "stories"} <= tested.keys():
            yield Problem("expected either `height` or `stories`", at)

    def _site_problems(self) -> Iterator[Problem]:
        station = self._site.get("weather_station")
        if isinstance(station, str) and station not in stations().stations:
            yield unknown("weather station", station, stations().stations, ("site", "weather_station"))
        if {"weather_station", "weather_shielding"} <= self._site.keys():
            yield Problem("expected either `weather_station` or `weather_shielding`", ("site",))


def _bad_name(name: str, path: Path) -> Iterator[Problem]:
    if _NAME.fullmatch(name) is None or name != name.strip():
        yield Problem(
            f"name {clipped(name)!r} cannot be used; expected 1 to 63 letters, digits, spaces, _, + or -",
            path,
            at_key=True,
        )


def _lacking(device: str, what: str, name: str, valid: Collection[str], path: Path, *, at_key: bool = False) -> Problem:
    return Problem(f"{shown(device)} has no {what} {clipped(name)!r}{names_hint(name, valid)}", path, at_key=at_key)
