"""What is asked of a dwelling and what its week comes to, as JSON; it grows only by adding."""

import json
from collections.abc import Sequence

from ventrules import __version__
from ventrules.codes import CodeKind, Requirement, Step
from ventrules.engine.findings import Document
from ventrules.engine.report import FORMAT
from ventrules.files import Problem
from ventrules.job import Occupancy
from ventrules.outputs.wording import at
from ventrules.sources import Basis
from ventrules.survey import Homecoming, Unventilated, Window
from ventrules.survey.under import AskedWeek
from ventrules.targets import Asked, SeasonSheet, TargetSheet
from ventrules.units import Airflow

_MINUTE_S = 60.0


def target_json(file: str, sheet: TargetSheet, every: Sequence[Asked] | None = None) -> str:
    """Return what a job's own target asks, and what every code asks, as JSON text.

    Args:
        file: The job's file.
        sheet: What the job's own target asks.
        every: What every code asks; None to leave it out.
    """
    data: dict[str, Document] = {
        **_head(file),
        "usable": True,
        "problems": [],
        "job": sheet.job,
        "asked": {
            **_asked(sheet.asked, sheet.unit),
            "recovered": sheet.recovered,
            "seasons": [_season(season, sheet.asked, sheet.unit) for season in sheet.seasons],
            "unknown": list(sheet.missing),
        },
    }
    if every is not None:
        data["every_code"] = [_under(one, sheet.unit) for one in every]
    return _text(data)


def unusable_json(file: str, problems: Sequence[Problem]) -> str:
    """Return what kept a file from being used as JSON text."""
    listed: list[Document] = [
        {
            "file": problem.file,
            "position": {"line": problem.position.line, "column": problem.position.column}
            if problem.position is not None
            else None,
            "place": problem.where,
            "message": problem.message,
        }
        for problem in problems
    ]
    return _text({**_head(file), "usable": False, "problems": listed})


def _head(file: str) -> dict[str, Document]:
    return {"ventrules-target": FORMAT, "version": __version__, "file": file}


def _text(data: Document) -> str:
    return json.dumps(data, indent=2, ensure_ascii=True, allow_nan=False) + "\n"


def _airflow(m3s: float, unit: str) -> Document:
    return {"value": m3s, "unit": Airflow.si_unit, "text": str(Airflow.shown(m3s, unit))}


def _basis(basis: Basis) -> Document:
    return {"title": basis.title, "clause": basis.clause, "known": basis.known.value, "note": basis.note}


def _under(found: Asked, unit: str) -> Document:
    return {**_asked(found, unit), "seasons": [_week(week, unit, found) for week in found.weeks]}


def _asked(found: Asked, unit: str) -> dict[str, Document]:
    code = found.code
    return {
        "code": code.code if code is not None else None,
        "title": code.title if code is not None else None,
        "edition": code.edition if code is not None else None,
        "jurisdiction": code.jurisdiction if code is not None else None,
        "note": code.note if code is not None else None,
        "kind": (code.kind if code is not None else CodeKind.AVERAGE).value,
        "known": found.known.value if found.known is not None else None,
        "missing": found.missing or None,
        "requirement": _requirement(found.requirement, found, unit) if found.requirement is not None else None,
    }


def _requirement(asked: Requirement, found: Asked, unit: str) -> Document:
    code, run = found.code, asked.run_time
    return {
        "required": _airflow(asked.continuous_m3s, unit),
        "part_time": _airflow(asked.intermittent_m3s, unit) if run is not None else None,
        "factors": [{"share": share, "factor": factor} for share, factor in zip(run.shares, run.factors, strict=True)]
        if run is not None
        else [],
        "total": _airflow(asked.total_m3s, unit),
        "infiltration": _airflow(asked.infiltration_m3s, unit),
        "route": asked.route.value if asked.route is not None else None,
        "counts": asked.counts.value,
        "counts_basis": _basis(code.basis(code.counts_basis)) if code is not None else None,
        "held_while": [occupancy.value for occupancy in Occupancy if occupancy in asked.judged],
        "held_basis": _basis(code.basis(code.judged_basis)) if code is not None else None,
        "window_s": asked.window_s,
        "placing": asked.placing.value if asked.window_s > 0.0 else None,
        "window_basis": _basis(asked.window_basis),
        "least_share": asked.least_share,
        "levels": {
            occupancy.value: {"airflow": _airflow(held.airflow_m3s, unit), "basis": _basis(held.basis)}
            for occupancy, held in asked.levels.items()
        },
        "floor": {"airflow": _airflow(asked.floor.airflow_m3s, unit), "basis": _basis(asked.floor.basis)}
        if asked.floor is not None
        else None,
        "exposure_limits": {"mean": asked.exposure.mean, "peak": asked.exposure.peak}
        if asked.exposure is not None
        else None,
        "steps": [_step(step, unit) for step in asked.steps],
        "remarks": list(asked.remarks),
        "from_memory": list(asked.from_memory),
    }


def _step(step: Step, unit: str) -> Document:
    return {
        "name": step.name,
        "airflow": _airflow(step.airflow_m3s, unit) if step.airflow_m3s is not None else None,
        "number": step.number,
        "unit": step.unit,
        "basis": _basis(step.basis),
    }


def _week(week: AskedWeek, unit: str, found: Asked) -> dict[str, Document]:
    exposure = week.exposure
    required = found.requirement.continuous_m3s if found.requirement is not None else 0.0
    return {
        "season": week.season.value,
        "met": week.met,
        "window": _window(week.window, required, unit) if week.window is not None else None,
        "exposure": {
            "mean": exposure.mean,
            "mean_present": exposure.mean_present,
            "peak": exposure.peak,
            "peak_at": at(exposure.peak_s),
        }
        if exposure is not None
        else None,
    }


def _window(window: Window, required_m3s: float, unit: str) -> Document:
    return {
        "start": at(window.start * _MINUTE_S),
        "end": at(window.end * _MINUTE_S),
        "length_s": (window.end - window.start) * _MINUTE_S,
        "modes": [*sorted(window.modes)],
        "score": window.score,
        "worth": _airflow(window.score * required_m3s, unit),
    }


def _season(season: SeasonSheet, found: Asked, unit: str) -> Document:
    return {
        **_week(season.week, unit, found),
        "still": _still(season.still) if season.still is not None else None,
        "homecomings": [_homecoming(coming, unit) for coming in season.homecomings],
        "unknown": list(season.missing),
    }


def _still(still: Unventilated) -> Document:
    return {
        "share_present": still.share_present,
        "longest_present_s": still.longest_present_s,
        "share_absent": still.share_absent,
        "longest_absent_s": still.longest_absent_s,
    }


def _homecoming(coming: Homecoming, unit: str) -> Document:
    return {
        "at": at(coming.at_s),
        "airflow": _airflow(coming.airflow_m3s, unit),
        "exposure": coming.exposure,
        "recovery_s": coming.recovery_s,
    }
