"""Rules about airflow: what is delivered against what is asked for."""

from ventrules.rules.airflow import asked, delivered, dwelling, moments, unit

RULES = (*delivered.RULES, *dwelling.RULES, *moments.RULES, *asked.RULES, *unit.RULES)
