"""Every word the pages say of their own, in one place, so that it can be said in another language."""

from __future__ import annotations

# The frame
APP = "heldtrue"
HOME, SHELF, CHUCKS = "Setups", "Shelf", "Chucks"
READ = "Readings"
NAV = ((HOME, "/"), (SHELF, "/shelf"), (CHUCKS, "/chucks"))
SKIP = "To the content"
LOOK = "Look"
LOOK_CHOICES = (
    ("theme", "Colours", (("light", "Light"), ("dark", "Dark"), ("device", "As the device"))),
    ("text", "Text", (("normal", "Normal"), ("large", "Large"), ("largest", "Largest: at arm's length"))),
)
CAUTIONS = "Cautions"
CAUTION_LINES = (
    "Planning aid only. The plates of chuck, cylinder and machine rule.",
    "Measure the grip force; torque every jaw bolt; read the gauge before every start.",
    "Door shut, low speed first, stand aside. Local rules and licensed practice decide. A part that lets go can kill.",
)
NOT_FOUND = "Not here"
TO_HOME = "Back to the setups"
MAY_NOT = "Your login may only {role}: ask who administers this for more."
TRY_AGAIN = "Something went wrong on this page. What you typed is saved. Load the page again."

# People, where the app is open to the shop network
LOG_IN, LOG_OUT, LOGIN_NAME, PASSWORD = "Log in", "Log out", "Name", "Password"
NOT_YOUR_NAME = "This login is that of {name}: nothing is entered under another name."
NO_ADMINISTRATOR = (
    "--share needs somebody who may administer: heldtrue user add NAME --role administer; nobody can come in before"
)
CERTIFICATE_PAIR = "--certificate and --key go together: a certificate and its private key, both PEM files"
CERTIFICATE_BROKEN = "--certificate: {path} and {key} cannot be used: {why}"
IN_THE_CLEAR = (
    "without --certificate names, passwords and plans go over the network in the clear: only in a network you trust"
)
WRONG_LOGIN = "Name and password do not fit together."
TOO_OFTEN = "That was tried too often. Wait {minutes} min, then try again."
NOT_LOGGED_IN = "log in first"
LOGIN_ENDED = "Your login has ended. What was typed before is saved. Load the page again to log in."
PERSON_NAME = "A name has 1 to {most} letters."
PERSON_THERE = "There is a {name} already."
NO_SUCH_PERSON = "There is nobody called {name} here."
NO_SUCH_ROLE = "There is no role {role}; one of {roles}."
LAST_ADMINISTRATOR = "{name} is the last who may administer: let somebody else do that first."
PASSWORD_LENGTH = "A password has {least} to {most} letters: three words that do not belong together are good."
PASSWORD_PLAIN = "That password is the same few letters over and over: take three words that do not belong together."
PASSWORD_NAME = "That password is the name again: take three words that do not belong together."
PASSWORDS_DIFFER = "The two new passwords are not the same."
TOKEN_LABEL_NEEDED = "Say what the key is for: the name of the program or machine."
TOKEN_ROLE = "{name} may {role}: a key can do no more than its owner."
NO_SUCH_TOKEN = "There is no such key of this person."
PEOPLE, MINE = "People", "My login"
PERSON_HEADS = ("name", "may", "since", "let in by")
ADD_PERSON, ROLE, NEW_PASSWORD, AGAIN, OLD_PASSWORD = (
    "Let somebody in", "May", "New password", "The same again", "Password until now",
)  # fmt: skip
CHANGE_ROLE, CHANGE_PASSWORD, END_LOGINS, REMOVE_PERSON = (
    "Change what they may do", "Set a new password", "End every login", "Let in no longer",
)  # fmt: skip
REMOVE_PERSON_ASK = "{name} can no longer come in; what they did stays on record. Go on?"
PERSON_ADDED, PERSON_CHANGED, PERSON_REMOVED = "{name} may come in.", "Changed: {name}.", "{name} is out."
ROLE_WORDS = {
    "look": "look: see everything, change nothing",
    "set up": "set up: plan, start, record",
    "administer": "administer: all that, and let people in",
}
TRAIL, TRAIL_HEADS = "What happened, newest first", ("when", "who", "what", "", "from address")
TOKENS, TOKEN_HEADS = "Keys for other programs", ("key", "for", "may", "made", "ends", "last used", "")
MAKE_TOKEN, TOKEN_FOR = "Make a key", "What is it for?"
TOKEN_SHOWN = "This is the key. It is shown this once: {token}"
TAKE_BACK = "Take back"
NOT_SHARED_PAGE = "This app is open to this PC only: nobody logs in. heldtrue app --share opens it to the shop network."

# Setups
OPEN_DRAFTS = "Being worked on"
NO_DRAFTS = "Nothing yet. Start a new setup, or take an example to look around."
EXAMPLES = "Examples of a repair shop for pumps and winches"
STORED = "In the records"
NO_STORED = "No setup is in the records yet: the first start enters one."
NEW = "New setup"
OPEN_FILE = "Open a setup file (TOML)"
OPENED = "Open"
REMOVE = "Throw away"
REMOVE_ASK = "Throw this draft away? What is in the records stays."
YES, NO = "Yes", "No"
NEW_METRIC, NEW_INCH = "New setup, metric", "New setup, inch"
FILE_TOO_LARGE = "The file is larger than 1 MB: that is not a setup file."
FILE_NAMES_FILES = "A file opened here cannot name other files: copy their tables into it, or use the command line."

# Drafts and workers
NO_SUCH_DRAFT = "There is no setup of that name here."
BROKEN_DRAFT = "{path} cannot be read; move it away, then open the setup again."
NEWER_DRAFT = "That draft was saved by another version of this program."
SAVED_ELSEWHERE = (
    "Somebody else saved this setup in another window of another program. It now shows what they saved; "
    "your last entry was not kept: type it again if it is still right."
)
TOO_LONG = "That is too long for one field."
WORKER_LOST = "The computation ended unexpectedly. Change something or load the page again to repeat it."
FAILED = "Something went wrong in the computation; it is not your setup. What you typed is saved."
NO_SERVER_FILES = (
    "boring: template names a file of this computer; in the app only the examples may. Use heldtrue bore for it."
)

# Plan
SECTIONS = ("Run", "Part", "Grip", "Chuck", "Jaws", "Cuts")
UNDO, UNDONE, NOTHING_TO_UNDO = "Undo", "Taken back: {label}", "There is nothing to take back."
START, JAWS, COMPARE, SHEET, PLAN = "Start", "Cut the jaws", "Compare", "Floor sheet", "Plan"
WAITING = "not taken in yet"
SOLVING = "Working it out ..."
SOLVING_FOR = "Working it out: part, jaws, grip ... {seconds:.0f} s"
QUICK = "Quick look; every angle is being checked ..."
DONE = "Worked out in full in {seconds:.2f} s"
NOT_YET = "This cannot be planned yet"
HELD_BACK = "The answer below is for the values before: {fields} cannot be taken in, see there."
VERDICTS = {"passes": "PASSES", "fails": "FAILS", "not proven": "NOT PROVEN", "cannot be": "CANNOT BE"}
VERDICT_MARKS = {"passes": "✓", "fails": "✕", "not proven": "?", "cannot be": "–"}
DECIDED_BY, MEASURE_FIRST, FROM = "Decided by", "Measure this first", "from"
PRESSURE, SET_ON_GAUGE, NO_WINDOW = "Pressure", "set on the gauge", "NO WINDOW"
FLOOR, CEILING, STATED = "floor", "ceiling", "Checked at the stated {pressure}"
OPENERS = "Would open a window"
SPINDLE, TOP_SPEED, GRIP_FORCE = "Spindle limit", "top speed", "Grip force"
CHECKS, ASSUMED, SURFACES, NOTES, FROM_LOG = "Checks", "Assumed, taken at the worst", "Surfaces", "To know", "Records"
NOTHING_ASSUMED = "Nothing is assumed."
CHECK_HEADS = ("check", "state", "value", "limit", "margin", "decided by", "from")
ASSUMED_HEADS = ("input", "taken as", "could be", "measure this first")
SURFACE_HEADS = ("surface", "reads clamped", "form error, released")
DRAWINGS = {
    "section.svg": "Section", "chuck-face.svg": "Chuck face", "window.svg": "Pressure and speed",
    "contact-print.svg": "Contact print", "polar": "Shape, enlarged",
}  # fmt: skip
CORNER_ADD, CORNER_REMOVE, CORNERS, BLANK = "Add a corner after {n}", "Remove corner {n}", "Finished part", "Blank"
FIRST_CORNERS = "Enter the corners"
CORNER_WORDS = "half section, corner by corner: diameter, and z from the seat"
CUT_ADD, CUT_REMOVE = "Add a cut", "Remove this cut"
SURFACE_OF_CUT = "Surfaces and what the drawing asks"
SURFACE_ADD = "Add a surface"
TAKE_CHUCK, TAKE_JAWS = "Take a chuck", "Take jaws"
NO_CHOICE = "as it is"

# Start
GAUGE_SHOWS, YOUR_NAME, STEP = "The gauge shows", "Your name or initials", "Pressure step"
ASK_START = "May it start?"
MAY, MUST_NOT, OVERRIDDEN = "MAY START", "MUST NOT START", "MUST NOT START: OVERRIDDEN"
OVERRIDE = "Start it all the same"
OVERRIDE_REASON = "Why it holds all the same (kept with your name)"
OVERRIDE_NEEDS = "An override needs a reason that says something."
NEED_GAUGE, NEED_NAME = "Type what the gauge shows.", "Give your name: a start is recorded with it."
NEED_UNIT = "a bare number is {unit}"
NOT_WITH_PENDING = "A field of the plan is not taken in yet: put it right, or undo it, before a start is decided."
RECORDED = "Recorded: {who}"
LOADS, LOAD_HEADS = "Held at this pressure", ("load", "holds", "at")
EARLIER, EARLIER_HEADS = "Starts before", ("when", "gauge", "answer", "by", "override")

# Jaws
PLACING, PLACING_HEADS = "Where the jaws could stand, best first", (
    "place", "left to open", "left to close", "to cut per side", "web over bolts", "cuts left",
)  # fmt: skip
NUMBERS, STEPS, DRAWING, PROGRAM, PROOF = "What to cut", "At the machine, tick off", "Drawing", "Program", "Proof"
PATH_PICTURE, CANNOT_BE_CUT, NO_PROGRAM = "Path of the tool", "Cannot be cut", "There is no program"
DOWNLOAD, DOWNLOAD_ALL = "Save {name}", "Save everything (ZIP)"
TAKEN = "Taken for granted"
CUTTING = "Placing, ring, bore and program ..."

# Compare
WAYS_HEADS = ("", "way", "verdict", "form error", "pressure window", "why")
COMPARING = "Planning every way to hold ..."
TAKE_OVER, TAKEN_OVER, AS_IT_IS = "Take over", "Taken over: {name}", "as it is"
NEEDS = "needs"

# Shelf
FIND, FIND_HINT = "What you remember", "about 82, aluminium, last spring, machine 3"
NO_SETS, NO_FIT = "No jaw set is on the shelf yet.", "No set fits that; leave something out."
SET_HEADS = ("set", "style", "material", "bored", "cuts left", "where", "state")
HISTORY, HISTORY_HEADS = "History", ("when", "what", "by")
CHECK_OUT, CHECK_IN, PLACE, REMARK = "Check out", "Check in", "Where it lies", "Remark"
ADD_SET, SET_NUMBER, STYLE, MATERIAL = "Put a new set on the shelf", "Number of the set", "Style", "Material"
SET_OUT, SET_IN, ON_SHELF = "{set} is out, {who} has it", "{set} is in", "{set} is on the shelf"

# Chucks
NO_CHUCKS = "No chuck is in the records yet: the first start of a setup enters its chuck."
CHUCK_HEADS = ("chuck", "name", "machine", "readings", "greased", "next", "to know")
READINGS, READING_HEADS = "Grip readings", ("when", "pressure", "grip, all jaws", "by", "to know")
READ_PRESSURE, READ_FORCE, ADD_READING, GREASED = (
    "Pressure on the gauge",
    "Grip, all jaws",
    "Add reading",
    "Greased now",
)
LINE = "Line through the readings"
LINE_WORDS = "{grip} at {pressure}; nothing up to {zero}; {count} readings"
LINE_PICTURE = "Grip readings over pressure, and the line through them"
PUT_RIGHT = " (put right later)"
NO_HISTORY = "Nothing is entered yet."
NEEDED = "{what}: this is needed"
KEPT = "Kept."
