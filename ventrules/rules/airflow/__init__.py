"""Rules about airflow: what is delivered against what is asked for."""

from ventrules.rules.airflow import delivered, dwelling

RULES = (*delivered.RULES, *dwelling.RULES)
