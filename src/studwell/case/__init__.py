"""What the user writes: the case file, read and checked into plain frozen records."""

from studwell.case.fingerprint import inputs_sha256
from studwell.case.reading import case_from_text, read_case
from studwell.case.records import (
    Boss,
    Case,
    CylinderPressure,
    History,
    Insert,
    Layer,
    Limits,
    Nut,
    Phase,
    PlainWasher,
    Pocket,
    Retighten,
    Seating,
    Settling,
    Setup,
    SpringWasher,
    Stud,
    Thermal,
    ThermalSurface,
    Tightening,
)
from studwell.case.starter import starter_case

__all__ = [
    "Boss",
    "Case",
    "CylinderPressure",
    "History",
    "Insert",
    "Layer",
    "Limits",
    "Nut",
    "Phase",
    "PlainWasher",
    "Pocket",
    "Retighten",
    "Seating",
    "Settling",
    "Setup",
    "SpringWasher",
    "Stud",
    "Thermal",
    "ThermalSurface",
    "Tightening",
    "case_from_text",
    "inputs_sha256",
    "read_case",
    "starter_case",
]
