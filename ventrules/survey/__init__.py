"""What follows from a job: the bus graph, the airflow, the week. Facts only, no opinions."""

from ventrules.survey.airflow import Delivery, Judged, Run, StageFlow, judged
from ventrules.survey.airing import Airing
from ventrules.survey.bus_views import CableView, HopView, RingView, SegmentView
from ventrules.survey.exposure import Block, Exposure, Flow, Homecoming, Unventilated
from ventrules.survey.mixes import worst_window
from ventrules.survey.power import SupplyView
from ventrules.survey.survey import Survey
from ventrules.survey.topology import Hop, PortRef, Route, Segment, Topology, cable_name
from ventrules.survey.untold import UntoldView
from ventrules.survey.views import (
    DeviceView,
    DwellingView,
    ModeSeasonView,
    ModeView,
    ProgramView,
    VentilatorView,
)
from ventrules.survey.week import Gap, Span, Week, Window, clock, week_of
from ventrules.survey.week_view import WeekView

__all__ = [
    "Airing",
    "Block",
    "CableView",
    "Delivery",
    "DeviceView",
    "DwellingView",
    "Exposure",
    "Flow",
    "Gap",
    "Homecoming",
    "Hop",
    "HopView",
    "Judged",
    "ModeSeasonView",
    "ModeView",
    "PortRef",
    "ProgramView",
    "RingView",
    "Route",
    "Run",
    "Segment",
    "SegmentView",
    "Span",
    "StageFlow",
    "SupplyView",
    "Survey",
    "Topology",
    "UntoldView",
    "Unventilated",
    "VentilatorView",
    "Week",
    "WeekView",
    "Window",
    "cable_name",
    "clock",
    "judged",
    "week_of",
    "worst_window",
]
