"""Rules about settings: programs, modes and the calendar, outdoor limits."""

from ventrules.rules.settings import calendar, outdoor, programs

RULES = (*programs.RULES, *calendar.RULES, *outdoor.RULES)
