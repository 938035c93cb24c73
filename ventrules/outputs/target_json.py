"""What is asked of a dwelling and what its week comes to, as JSON; it grows only by adding."""

from collections.abc import Sequence

from ventrules.codes import CodeKind, Requirement, Step
from ventrules.engine.findings import Document
from ventrules.job import Occupancy
from ventrules.outputs.json_parts import airflow, basis, exposure, head, text
from ventrules.outputs.wording import at
from ventrules.survey import Homecoming, Unventilated, Window
from ventrules.survey.under import AskedWeek
from ventrules.targets import Asked, SeasonSheet, TargetSheet

_MINUTE_S = 60.0


def target_json(file: str, sheet: TargetSheet, every: Sequence[Asked] | None = None) -> str:
    """Return what a job's own target asks, and what every code asks, as JSON text.

    Args:
        file: The job's file.
        sheet: What the job's own target asks.
        every: What every code asks; None to leave it out.
    """
    data: dict[str, Document] = {
        **head("target", file),
        "usable": True,
        "problems": [],
        "job": sheet.job,
        "asked": {
            **asked_data(sheet.asked, sheet.unit),
            "recovered": sheet.recovered,
            "seasons": [_season(season, sheet.asked, sheet.unit) for season in sheet.seasons],
            "unknown": list(sheet.missing),
        },
    }
    if every is not None:
        data["every_code"] = [_under(one, sheet.unit) for one in every]
    return text(data)


def _under(found: Asked, unit: str) -> Document:
    return {**asked_data(found, unit), "seasons": [_week(week, unit, found) for week in found.weeks]}


def asked_data(found: Asked, unit: str) -> dict[str, Document]:
    """Return what is asked, without its week."""
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
        "required": airflow(asked.continuous_m3s, unit),
        "part_time": airflow(asked.intermittent_m3s, unit) if run is not None else None,
        "factors": [{"share": share, "factor": factor} for share, factor in zip(run.shares, run.factors, strict=True)]
        if run is not None
        else [],
        "total": airflow(asked.total_m3s, unit),
        "infiltration": airflow(asked.infiltration_m3s, unit),
        "route": asked.route.value if asked.route is not None else None,
        "counts": asked.counts.value,
        "counts_basis": basis(code.basis(code.counts_basis)) if code is not None else None,
        "held_while": [occupancy.value for occupancy in Occupancy if occupancy in asked.judged],
        "held_basis": basis(code.basis(code.judged_basis)) if code is not None else None,
        "window_s": asked.window_s,
        "placing": asked.placing.value if asked.window_s > 0.0 else None,
        "window_basis": basis(asked.window_basis),
        "least_share": asked.least_share,
        "levels": {
            occupancy.value: {"airflow": airflow(held.airflow_m3s, unit), "basis": basis(held.basis)}
            for occupancy, held in asked.levels.items()
        },
        "floor": {"airflow": airflow(asked.floor.airflow_m3s, unit), "basis": basis(asked.floor.basis)}
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
        "airflow": airflow(step.airflow_m3s, unit) if step.airflow_m3s is not None else None,
        "number": step.number,
        "unit": step.unit,
        "basis": basis(step.basis),
    }


def _week(week: AskedWeek, unit: str, found: Asked) -> dict[str, Document]:
    required = found.requirement.continuous_m3s if found.requirement is not None else 0.0
    return {
        "season": week.season.value,
        "met": week.met,
        "window": _window(week.window, required, unit) if week.window is not None else None,
        "exposure": exposure(week.exposure),
    }


def _window(window: Window, required_m3s: float, unit: str) -> Document:
    return {
        "start": at(window.start * _MINUTE_S),
        "end": at(window.end * _MINUTE_S),
        "length_s": (window.end - window.start) * _MINUTE_S,
        "modes": [*sorted(window.modes)],
        "score": window.score,
        "worth": airflow(window.score * required_m3s, unit),
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
        "airflow": airflow(coming.airflow_m3s, unit),
        "exposure": coming.exposure,
        "recovery_s": coming.recovery_s,
    }
