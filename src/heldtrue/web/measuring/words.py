"""Words of the pages for gauge rings and friction trials."""

from __future__ import annotations

RING, FRICTION, FRICTION_OF = "Gauge ring", "Friction of jaws on the part", "Friction: {title}"
RING_OF = "Gauge ring: {chuck}"
TAB_MAKE, TAB_READ = "Make a ring", "Read it"
BACK_TO_CHUCK, TO_FRICTION, TO_PLAN = "The chuck's log", "Friction of jaws on a part", "Plan"
NOT_CONNECTED = "NO ANSWER: not connected to the server. What stood here may be old."

# A ring to make
MAKE_WORDS = "A turned steel ring, clamped in place of the part: the size of its lobes says the force of each jaw."
SIDE, DIAMETER, WIDEST, MOST, NUMBER = (
    "Grip", "Diameter the jaws press on", "No wider along the axis than", "Largest pressure", "Number on the ring",
)  # fmt: skip
FROM_BODY, FROM_PLATE, USUAL_WIDTH = "left out: {size}, 0.6 of the body", "left out: the plate's", "left out: {size}"
NO_BODY = "needed: the card has no body diameter"
DESIGN, DESIGNING, DESIGNED = (
    "Design the ring",
    "Wall and width that carry the grip and read well ...",
    "A ring to make",
)
MISSED = "It does not reach all that is wanted"
DRAWING, SIZES = "Drawing of the ring", "Sizes"
FACTS = {
    "outer": "outside", "inner": "bore", "width": "width", "material": "material", "most": "at most",
    "factor": "strength over stress",
}  # fmt: skip
SAVE_PDF, SAVE_DXF, SAVE_RING, SAVE_FORM = (
    "Drawing and form (PDF)", "Drawing (DXF)", "The ring (TOML)", "Readings form (TOML)",
)  # fmt: skip
USE_RING, RING_TAKEN = (
    "Read with this ring",
    "The ring is set. Put in the sizes as they were measured on the finished ring.",
)

# A ring to read
READ_WORDS = (
    "Spindle locked, drive off. "
    "Dial on the surface that no jaw presses, at half width; plus is the plunger pushed in. First place at jaw 1, then "
    "clockwise seen from the tail, towards jaw 2. One round free, one to three clamped."
)
RING_TEXT, RING_HINT = "The ring, sizes as measured (gauge-ring.toml)", "paste it, or hand its file over"
GAUGE_KIND, GAUGE_KINDS = "Read with", {
    "dial": "a dial", "two-point": "a two-point bore gauge", "three-point": "a three-point bore gauge",
}  # fmt: skip
DIVISION_HINT = "in the unit of the dial"
FREE, ROUND = "Free", "Clamped {n}"
ROUND_PRESSURE, FREE_NO_PRESSURE = "Pressure of this round", "The ring is free: no jaw touches it."
PAD_TITLE = "Readings"
PLACE_NOW, JAW_AT = "{round}: place {place} of {count}", ", at jaw {jaw}"
READING_AT = "{round}, place {place}"
PICTURE = "Face of the ring from the tail: {jaws} jaws, {round}, to be read now: place {place} of {count}"
CLOCKWISE = ("↻ places run", "this way")
BETWEEN = {"rollers": "pins", "pads": "pads", "jaws": "bare jaws"}

STILL = "Still to come"
NEED_RING = "The ring: paste gauge-ring.toml, or hand the file over."
NEED_DIVISION = "One division of the gauge."
NEED_PRESSURE = "{round}: the pressure it was clamped with."
NEED_VALUES = "{round}: {left} of {count} readings."
NEED_ROUNDS = "A round clamped at one pressure, and the ring free or a second pressure."
NOT_READ = "Cannot be read"
READING_RING = "Forces behind the readings ..."
READ_ANSWER = "What the ring says"
FORCE_HEADS = ("pressure", "grip of all jaws", "95 %")
EACH_JAW, JAW_HEAD = "Each jaw, with its range (95 %)", "jaw {n}"
LINE, LINE_WORDS = "Line of grip", "{slope} of grip for 1 {unit} more ({low} to {high})"
ONE_PRESSURE = "from one pressure alone: neither slope nor what is lost before the jaws grip"
CANNOT = "What this cannot tell, and what makes it wide"
ENTER_LOG, ENTERED = "Enter in the chuck's log", "{count} in the log of {chuck}: plans and starts rest on them."
NO_ANSWER_YET = "There is no answer to what is typed yet: nothing was entered."
EMPTY_ALL, EMPTY_ASK = "Begin anew", "Empty every round? Undo brings them back."
SECOND_LOOK = (
    "Plans and starts rest on what is entered: a grip reading stands for a day, in a greased chuck for a quarter."
)

# Friction
FRICTION_WORDS = (
    "Spindle locked, drive off. "
    "Clamp the part at low pressure, turn it with a torque wrench (or pull it along the axis with a scale) until it "
    "slips. Three to five times, clamped anew each time."
)
CHOOSE_SETUP, NO_SETUPS = "Which setup is clamped?", "No setup is being worked on. Open one first."
TRIED_AT, WAY, WAYS = "Pressure it was clamped with", "It slipped by", {
    "torque": "a torque wrench", "pull": "a pull on a scale",
}  # fmt: skip
SLIP, WET, WETS = "Slip {n}", "The part was", {"wet": "as wet as it runs", "dry": "dry"}
DEVICE_ERROR, DEVICE_ERROR_HINT = "Error of wrench or scale, %", "left out: 4 % of a wrench, 2 % of a scale"
NEED_TRIED = "The pressure it was clamped with."
NEED_WET = "Was the part dry, or as wet as it runs?"
NEED_WAY = "By a torque wrench, or by a pull?"
NEED_SLIPS = "{left} more of three slips."
READING_FRICTION = "Friction behind the slips ..."
ENTER_FRICTION, FRICTION_ENTERED = "Enter in the records", "In the records: plans of this pairing use it."
WHOLE_SETUP = "The setup cannot be planned yet: {why}"
ERROR_NUMBER = '"{found}": expected a percentage, such as 4'

# Ways here
MEASURE_GRIP, MEASURE_FRICTION = "Measure the grip with a gauge ring", "Measure the friction with a torque wrench"
CARD_CHANGED = "The chuck's card was changed meanwhile: load the page again. Nothing was entered."
API_TORQUE_OR_PULL = "give torque or pull, once for every slip"
