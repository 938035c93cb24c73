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
from ventrules.codes.limits import Limits

__all__ = [
    "BalanceTest",
    "Balanced",
    "Code",
    "CodeKind",
    "Counts",
    "Credit",
    "CreditNeed",
    "Equation",
    "Limits",
    "Rate",
    "RateTable",
    "Requirement",
    "RunTime",
    "Step",
    "equation_rate",
    "imbalance",
    "is_balanced",
    "own_requirement",
    "requirement",
    "run_time_factor",
    "table_rate",
]
