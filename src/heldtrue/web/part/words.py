"""Words of the pages where a part comes in."""

from __future__ import annotations

from typing import Literal

from heldtrue.part_file.choices import Question
from heldtrue.quantities import UnitSystem

State = Literal["finished", "blank"]

DROP = "From a drawing"
DROP_HERE = "Drop a STEP or DXF file here"
DROP_BUTTON = "Choose a drawing"
REFUSED = "Not taken: a drawing is a STEP or DXF file (.step, .stp, .dxf) of at most {most} MB."
SHAPE = "From a shape"
SHAPE_WORDS = "A few dimensions make the half section."
SHAPE_BUTTON = "Shape: {name}"
DIMENSIONS = "Dimensions of {what}"
UNITS: dict[UnitSystem, str] = {"metric": "Bare numbers in mm", "inch": "Bare numbers in inch"}
OPTIONAL, SEVERAL = "may be left out", "; between them"
EXAMPLE_SIZES, SHAPE_OF = "Names of the dimensions", "Names of the dimensions, as typed"
TOO_MANY = "{what}: at most {most} of them"
NO_SHAPE = "There is no such shape."
CORNERS = "Corner by corner"
CORNERS_WORDS = "Every corner of the half section is typed as Ø and z."

GONE = "This drawing is no longer here: the server has been started again, or too many came after it. Drop it again."
PART_OF = "Part: {name}"
READING = "Reading {name} ..."
TOO_LONG = "{name}: reading it took longer than {seconds:.0f} s. Is there more in the file than one part?"
TOO_MUCH = "{name}: it needs more memory than there is. Is there more in the file than one part?"
QUESTIONS: dict[Question, str] = {
    "body": "Several bodies are in the file. Which one is the part?",
    "axis": "More than one axis is possible. Which one is it turned about?",
    "units": "The file does not say its unit. Which one is it drawn in?",
}
NO_PICTURE = "No picture: more is asked after this, it is no turned part, or there are too many."
CHOOSE, ASK_AGAIN = "Choose: {what}", "Answer the questions about the file again"

SECTION = "Section: {name}"
SAID = "What the drawing says"
AXIS = "axis"
AXIS_WORDS = "through {origin}, along {direction}"
VOLUME, SOLID_VOLUME = "turned section", "solid in the file"
SIZE, SIZE_WORDS = "size", "{length} long, largest Ø {diameter}"
SHAPE_SAYS = "The part"
NOT_TURNED, NOT_TURNED_WORDS = (
    "Not turned",
    "The section is without these; a hexagon, socket or eccentric stands in it as a cylinder that cannot be gripped. "
    "Cuts over them are taken as interrupted.",
)
NOTES = "Notes of the reader"

END = "1. Which end is towards the chuck?"
END_CHOICES = {True: "This end (low z)", False: "This end (high z)"}
END_PICTURE = "{end} towards the chuck"
STATE = "2. What does the drawing show?"
STATES: dict[State, str] = {"finished": "The part after this operation", "blank": "The blank"}
SURFACES = "3. Where is it gripped, what is turned?"
SURFACES_WORDS = "Numbers as in the section. Ø, z and tolerances go into the setup; each turned surface gets a cut."
GRIP_HERE, TURNED_HERE = "Grip here", "Turned here"
GRIP_ON, TURN_ON = "Grip on {name}", "Turn {name}"
NO_SURFACES = "There is no cylinder and no flat face in this section."
GRIP_FROM, GRIP_TO = "Gripped from z", "to z"
GRIP_HINT = "the surface: {where}"
REST = "4. What else is known?"
REST_WORDS = "Each can be left for the plan page."
ON_DIAMETER, ON_FACES = "Blank larger on Ø by", "Blank longer at each face by"
BLANK_HINT = "left out: no blank is stated; seat and gripped surface stay"
NUMBER, MATERIAL = "Part number", "Material"
MAKE = "Make the setup"
NO_PART_YET = "There is no part yet: see what is asked or missing."
SAY_END = "Say first which end is towards the chuck."
TOLERANCES = {
    "size": "size", "roundness": "roundness", "cylindricity": "cylindricity", "runout": "run-out",
    "flatness": "flatness",
}  # fmt: skip

DRAWN = {
    "profile": "The part after this operation is the half section of {name}: {end}. SHA-256 {digest}.",
    "blank": "The blank is the half section of {name}: {end}. SHA-256 {digest}.",
}
DRAWN_END = {"low": "its end of low z is towards the chuck", "high": "its end of high z is towards the chuck"}
COPY = "Download the drawing"
KEPT_COPY = "A copy of the drawing is kept."
NO_COPY = "No copy of {name} is kept here."
COPY_CHANGED = (
    "The kept copy of {name} was changed on disk: it is not the drawing that this setup was made from. Drop that again."
)
NO_ROOM = "The setup is made; no copy of the drawing is kept: there is no room for it."
EDITED = "The half section was changed by hand: it is no longer that of {name}. Undo puts it back."
HAS_CHANGED = (
    "{name} has changed: {setups} came from a drawing of this name with another content, and "
    "keep the half section of that one."
)
AND_MORE = "{names} and {count} more"
