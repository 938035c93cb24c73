"""Text to model and back: YAML 1.2 and JSON with line numbers, catalogs, edits."""

from ventrules.files.bus_files import DataFileError, conductor_roles, load_bus_profile, parse_bus_profile
from ventrules.files.catalogs import packaged_catalog, parse_catalog, read_catalog
from ventrules.files.code_files import CodeFileError, limits, load_code, parse_code, stations
from ventrules.files.finding import Found, What, find_jobs
from ventrules.files.marks import Marks
from ventrules.files.problems import DocumentError, JobFileError, Problem, ProblemKind
from ventrules.files.reader import job_from_document, parse_job, read_job, rebuilt
from ventrules.files.records import LINES_SUFFIXES, Record, read_records, records_in
from ventrules.files.shelf import NO_SHELF, Shelf
from ventrules.files.texts import decode, load_text, marks_of, read_text, replace_text, write_text, written_beside
from ventrules.files.writer import apply_edits, job_document, job_json, job_yaml, to_yaml

__all__ = [
    "LINES_SUFFIXES",
    "NO_SHELF",
    "CodeFileError",
    "DataFileError",
    "DocumentError",
    "Found",
    "JobFileError",
    "Marks",
    "Problem",
    "ProblemKind",
    "Record",
    "Shelf",
    "What",
    "apply_edits",
    "conductor_roles",
    "decode",
    "find_jobs",
    "job_document",
    "job_from_document",
    "job_json",
    "job_yaml",
    "limits",
    "load_bus_profile",
    "load_code",
    "load_text",
    "marks_of",
    "packaged_catalog",
    "parse_bus_profile",
    "parse_catalog",
    "parse_code",
    "parse_job",
    "read_catalog",
    "read_job",
    "read_records",
    "read_text",
    "rebuilt",
    "records_in",
    "replace_text",
    "stations",
    "to_yaml",
    "write_text",
    "written_beside",
]
