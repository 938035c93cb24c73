"""Names that must exist: checked on the plain document, so that they are reported beside other problems."""

from collections.abc import Collection, Iterator, Mapping
from itertools import islice

import attrs

from ventrules.engine import Path
from ventrules.engine.findings import Document
from ventrules.files.bounds import MOST_PROBLEMS
from ventrules.files.code_files import stations
from ventrules.files.problems import Problem, ProblemKind, names_hint, unknown
from ventrules.files.resources import code_names
from ventrules.files.schema_bonds import broken_bonds
from ventrules.files.schema_words import CODE_PATH, DAYS, GROUPS, PLACE, TIME, is_name, matches
from ventrules.job import Leakage, Model, Role, Site, Target
from ventrules.words import clipped, shown


def reference_problems(
    document: Mapping[str, Document], models: Mapping[str, Model], *, whole: bool = True, codes: Collection[str] = ()
) -> list[Problem]:
    """Return every reference in a job document to something that does not exist.

    Args:
        document: The job document; parts of the wrong shape are left to the shape check.
        models: The models of the job's catalogs.
        whole: False when a catalog could not be used; models and stages are then not looked up.
        codes: Names of codes that are known besides the packaged ones.
    """
    return list(islice(_References(document, models, codes, whole=whole).problems(), MOST_PROBLEMS))


def _mapping(value: Document) -> Mapping[str, Document]:
    return value if isinstance(value, dict) else {}


class _References:
    def __init__(
        self, document: Mapping[str, Document], models: Mapping[str, Model], codes: Collection[str], *, whole: bool
    ) -> None:
        self._document = document
        self._whole = whole
        self._codes = (*code_names(), *codes)
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
        yield from self._acceptance_problems()

    def _acceptance_problems(self) -> Iterator[Problem]:
        """Yield what is let stand without a reason in words."""
        things: list[tuple[Path, Document]] = [((), dict(self._document))]
        things += [(("devices", name), device) for name, device in self._devices.items()]
        things += [(("settings", name), settings) for name, settings in self._settings.items()]
        if isinstance(self._cables, list):
            things += [(("cables", number), cable) for number, cable in enumerate(self._cables)]
        for path, thing in things:
            accepted = _mapping(thing).get("accepted")
            for number, acceptance in enumerate(accepted if isinstance(accepted, list) else ()):
                reason = _mapping(acceptance).get("reason")
                if isinstance(reason, str) and not reason.strip():
                    at = (*path, "accepted", number, "reason")
                    yield Problem("says nothing; expected a reason", at, kind=ProblemKind.CONTRADICTION)

    def _device_problems(self) -> Iterator[Problem]:
        for name, device in self._devices.items():
            yield from _bad_name(name, ("devices", name))
            model = _mapping(device).get("model")
            if self._whole and isinstance(model, str) and model not in self._models:
                if not self._models:
                    yield Problem(
                        f"unknown model {clipped(model)!r}: no catalog could be used; name one under `catalogs`",
                        ("devices", name, "model"),
                        kind=ProblemKind.REFERENCE,
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
                yield Problem(
                    "both ends are the same port; expected two",
                    ("cables", number, "to"),
                    kind=ProblemKind.CONTRADICTION,
                )

    def _end_problems(self, end: str, path: Path) -> Iterator[Problem]:
        device, _dot, port = end.partition(".")
        if not matches(PLACE, end):
            yield Problem(f"{clipped(end)!r} names no port; expected device.port", path)
        elif device not in self._devices:
            yield unknown("device", device, self._devices, path)
        elif (model := self._model_of.get(device)) is not None and port not in model.ports:
            yield _lacking(device, "port", port, model.ports, path)

    def _calendar_problems(self) -> Iterator[Problem]:
        for day, times in self._calendar.items():
            if day not in DAYS and day not in GROUPS:
                problem = unknown("day", day, (*GROUPS, *DAYS), ("calendar", day), at_key=True)
                yield attrs.evolve(problem, kind=ProblemKind.SHAPE)
            for time, mode in _mapping(times).items():
                path = ("calendar", day, time)
                if not matches(TIME, time):
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
                kind=ProblemKind.REFERENCE,
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
            if self._whole and not self._is_stage(stage):
                offered = frozenset(name for model in self._models.values() for name in model.stages)
                yield unknown("stage", stage, offered, (*path, stage), at_key=True)

    def _is_stage(self, name: str) -> bool:
        models = (*self._model_of.values(), *self._models.values())  # mostly of one of the job's own devices
        return any(name in model.stages for model in models)

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
        code = self._target.get("code")
        if isinstance(code, str) and code not in self._codes and not matches(CODE_PATH, code):
            yield unknown("code", code, self._codes, ("target", "code"), all_valid=True)
        yield from broken_bonds(Target, self._target, ("target",))

    def _dwelling_problems(self) -> Iterator[Problem]:
        for name, room in _mapping(self._dwelling.get("rooms")).items():
            path = ("dwelling", "rooms", name)
            yield from _bad_name(name, path)
            by = _mapping(room).get("exhaust_by")
            if isinstance(by, str):
                for problem in self._ventilator_problems(by, (*path, "exhaust_by")):
                    yield attrs.evolve(problem, at_key=False)
        yield from broken_bonds(Leakage, _mapping(self._dwelling.get("leakage")), ("dwelling", "leakage"))

    def _site_problems(self) -> Iterator[Problem]:
        station = self._site.get("weather_station")
        if isinstance(station, str) and station not in stations().stations:
            problem = unknown("weather station", station, stations().stations, ("site", "weather_station"))
            yield attrs.evolve(problem, kind=ProblemKind.SHAPE)
        yield from broken_bonds(Site, self._site, ("site",))


def _bad_name(name: str, path: Path) -> Iterator[Problem]:
    if not is_name(name):
        yield Problem(
            f"name {clipped(name)!r} cannot be used; expected 1 to 63 letters, digits, spaces, _, + or -",
            path,
            at_key=True,
        )


def _lacking(device: str, what: str, name: str, valid: Collection[str], path: Path, *, at_key: bool = False) -> Problem:
    said = f"{shown(device)} has no {what} {clipped(name)!r}{names_hint(name, valid)}"
    return Problem(said, path, at_key=at_key, kind=ProblemKind.REFERENCE)
