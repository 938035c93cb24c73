"""A plan as JSON; documented in docs/json-output.md, grows only by adding."""

from math import isfinite

from ventrules.engine.findings import Document
from ventrules.job import Job
from ventrules.outputs.json_parts import airflow, exposure, findings, head, text
from ventrules.outputs.plan_words import (
    cheaper_words,
    compared,
    failure_words,
    kind_word,
    ordered,
    planned_words,
)
from ventrules.outputs.target_json import asked_data
from ventrules.outputs.wording import at
from ventrules.planner.planned import (
    NextCheaper,
    Plan,
    PlannedMode,
    PlannedProgram,
    PlannedSeason,
    PlannedStage,
    Shortage,
)
from ventrules.planner.verdict import Failure, FailureKind
from ventrules.targets import Asked
from ventrules.units import Power, Quantity

_MINUTE_S = 60.0


def plan_json(file: str, job: Job, plan: Plan, asked: Asked, *, written: bool = False) -> str:
    """Return a plan as JSON text.

    Args:
        file: The job's file.
        job: The job as it was given.
        plan: The plan.
        asked: What is asked for; airflow is written in the plan's unit.
        written: Whether the programs were written into the file.
    """
    return text(
        {
            **head("plan", file),
            "usable": True,
            "problems": [],
            "job": job.title,
            "least": plan.least.value,
            "hold": list(plan.hold),
            "found": plan.found,
            "proved": plan.proved,
            "alike": plan.alike,
            "missing": plan.missing or None,
            "remarks": list(plan.remarks),
            "asked": asked_data(asked, plan.unit),
            "seasons": [_season(job, season, plan.unit) for season in plan.seasons],
            "shortage": _shortage(plan.shortage, plan.unit) if plan.shortage is not None else None,
            "edits": [edit.as_patch() for edit in plan.edits],
            "written": written,
            "findings": findings(plan.findings),
        }
    )


def _maybe(m3s: float | None, unit: str) -> Document:
    return airflow(m3s, unit) if m3s is not None else None


def _power(watts: float | None) -> Document:
    return {"value": watts, "unit": "W", "text": str(Power.shown(watts, "W"))} if watts is not None else None


def _season(job: Job, season: PlannedSeason, unit: str) -> Document:
    return {
        "season": season.season.value,
        "delivered": airflow(season.delivered_m3s, unit),
        "required": airflow(season.required_m3s, unit),
        "surplus": airflow(season.surplus_m3s, unit),
        "power": _power(season.power_w),
        "changes_per_hour": season.changes_per_hour,
        "exposure": exposure(season.exposure),
        "by_exposure": season.by_exposure,
        "proved": season.proved,
        "beyond": season.beyond if isfinite(season.beyond) else None,
        "modes": [_mode(job, mode, unit) for mode in season.modes],
    }


def _mode(job: Job, mode: PlannedMode, unit: str) -> Document:
    return {
        "mode": mode.mode,
        "occupancy": mode.occupancy.value,
        "part": mode.part,
        "required": _maybe(mode.required_m3s, unit),
        "equivalent": _maybe(mode.equivalent_m3s, unit),
        "delivered": airflow(mode.delivered_m3s, unit),
        "surplus": _maybe(mode.surplus_m3s, unit),
        "programs": [_program(job, program, unit) for program in mode.programs],
    }


def _program(job: Job, program: PlannedProgram, unit: str) -> Document:
    cheaper = program.cheaper
    return {
        "ventilator": program.ventilator,
        "cycle_s": program.cycle_s,
        "stages": [_stage(stage, unit) for stage in program.stages],
        "text": planned_words(job, program),
        "delivered": airflow(program.delivered_m3s, unit),
        "power": _power(program.power_w),
        "changes": program.changes,
        "kept": program.kept,
        "changed": program.changed,
        "next_cheaper": _cheaper(job, program, cheaper, unit) if cheaper is not None else None,
    }


def _stage(stage: PlannedStage, unit: str) -> Document:
    return {
        "stage": stage.stage,
        "time_s": stage.time_s,
        "airflow": airflow(stage.airflow_m3s, unit),
        "measured": stage.measured,
    }


def _cheaper(job: Job, program: PlannedProgram, cheaper: NextCheaper, unit: str) -> Document:
    times = ordered(job, program.ventilator, cheaper.stages)
    return {
        "stages": [{"stage": stage, "time_s": time_s} for stage, time_s in reversed(times)],
        "text": cheaper_words(job, program, cheaper),
        "delivered": airflow(cheaper.delivered_m3s, unit),
        "power": _power(cheaper.power_w),
        "changes": cheaper.changes,
        "failure": _failure(cheaper.failure, unit) if cheaper.failure is not None else None,
    }


def _failure(failure: Failure, unit: str) -> Document:
    value, bound, value_text, bound_text = compared(failure, unit)
    window, peak = failure.kind is FailureKind.WINDOW, failure.kind is FailureKind.PEAK_EXPOSURE
    return {
        "kind": kind_word(failure.kind),
        "mode": failure.mode or None,
        "value": _compared(failure.value, value, value_text),
        "bound": _compared(failure.bound, bound, bound_text),
        "start": at(failure.start_min * _MINUTE_S) if window or peak else None,
        "end": at(failure.end_min * _MINUTE_S) if window else None,
        "text": failure_words(failure, unit),
    }


def _compared(number: float, quantity: Quantity | None, words: str) -> Document:
    unit = quantity.si_unit if quantity is not None else "1"
    return {"value": number if isfinite(number) else None, "unit": unit, "text": words}


def _shortage(short: Shortage, unit: str) -> Document:
    return {
        "season": short.season.value,
        "failure": _failure(short.failure, unit) if short.failure is not None else None,
        "curable": short.curable,
        "proved": short.proved,
        "models": {name: list(models) for name, models in short.models.items()},
    }
