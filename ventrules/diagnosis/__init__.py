"""Which faults explain what still talks and what does not, and what to measure next."""

from ventrules.diagnosis.diagnosing import Candidate, Diagnosis, diagnose, faults_of, symptoms_of
from ventrules.diagnosis.faults import ORDER_BASIS, Continuity, FaultKind, SingleFault
from ventrules.diagnosis.measuring import Measurement, Method, Outcome, Step
from ventrules.diagnosis.symptoms import Observation, Shows, SymptomError, Symptoms

__all__ = [
    "ORDER_BASIS",
    "Candidate",
    "Continuity",
    "Diagnosis",
    "FaultKind",
    "Measurement",
    "Method",
    "Observation",
    "Outcome",
    "Shows",
    "SingleFault",
    "Step",
    "SymptomError",
    "Symptoms",
    "diagnose",
    "faults_of",
    "symptoms_of",
]
