"""Ventilation codes as data, and the small evaluator for them."""

from ventrules.codes.code import (
    Balanced,
    BalanceTest,
    Code,
    CodeKind,
    Counts,
    Credit,
    CreditNeed,
    Equation,
    Rate,
    RateTable,
    RunTime,
)
from ventrules.codes.evaluate import (
    Requirement,
    Step,
    equation_rate,
    imbalance,
    is_balanced,
    own_requirement,
    requirement,
    run_time_factor,
    table_rate,
)
from ventrules.codes.store import CodeFileError, load_code, parse_code

__all__ = [
    "BalanceTest",
    "Balanced",
    "Code",
    "CodeFileError",
    "CodeKind",
    "Counts",
    "Credit",
    "CreditNeed",
    "Equation",
    "Rate",
    "RateTable",
    "Requirement",
    "RunTime",
    "Step",
    "equation_rate",
    "imbalance",
    "is_balanced",
    "load_code",
    "own_requirement",
    "parse_code",
    "requirement",
    "run_time_factor",
    "table_rate",
]
