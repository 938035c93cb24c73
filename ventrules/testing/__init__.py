"""For rule authors: Hypothesis strategies for sound jobs, and makers of single faults.

Needs the extra `ventrules[testing]`. Nothing else in the package imports this.
"""

from ventrules.testing.documents import merged
from ventrules.testing.fault import Fault, Faulted
from ventrules.testing.faults import FAULTS
from ventrules.testing.rewriting import in_other_units, renamed, reordered
from ventrules.testing.strategies import job_documents, jobs

__all__ = [
    "FAULTS",
    "Fault",
    "Faulted",
    "in_other_units",
    "job_documents",
    "jobs",
    "merged",
    "renamed",
    "reordered",
]
