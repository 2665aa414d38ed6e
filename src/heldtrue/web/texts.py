"""Every word the pages say of their own, in one place, so that it can be said in another language."""

from __future__ import annotations

# The frame
APP = "heldtrue"
HOME, SHELF, CHUCKS = "Setups", "Shelf", "Chucks"
READ = "Readings"
NAV = (
    (HOME, "/"),
    (READ, "/readings"),
    (SHELF, "/shelf"),
    (CHUCKS, "/chucks"),
    ("Stock", "/stock"),
    ("Catalogue", "/catalogue"),
)
HELP = "Help"
SKIP = "To the content"
LOOK = "Display"
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
NOT_FOUND = "Page not found"
TO_HOME = "Back to the setups"
LOOK_ONLY = "You may look at everything; nothing that you type or press here is kept."
MAY_NOT = "Your login may only {role}: ask who administers this for more."
TRY_AGAIN = "Something went wrong on this page. What you typed is saved. Load the page again."

# People, where the app is open to the shop network
LOG_IN, LOG_OUT, LOGIN_NAME, PASSWORD = "Log in", "Log out", "Name", "Password"
NOT_YOUR_NAME = "This login is that of {name}: nothing is entered under another name."
NO_ADMINISTRATOR = (
    "--share needs somebody who may administer: heldtrue user add NAME --role administer; nobody can come in before"
)
NO_ROOM_TO_START = (
    "the disk of {folder} is full ({free} kB free): the records cannot be opened, not even to read; make at least 1 MB "
    "of room there and start again; nothing was changed"
)
DISK_FULL_AT_START = (
    "The disk of {folder} is full. The app used its spare room to start: everything can be read, nothing can be saved "
    "until there is room. Make room now: it cannot start on a full disk a second time."
)
CERTIFICATE_PAIR = "--certificate and --key go together: a certificate and its private key, both PEM files"
CERTIFICATE_BROKEN = "--certificate: {path} and {key} cannot be used: {why}"
TLS_NEEDED = (
    "--share on {address} needs --certificate and --key: without them whoever is on that network can read every password "
    "(docs/security.md says how to make them). To do it all the same, say --unencrypted as well"
)
IN_THE_CLEAR = "IN THE CLEAR: whoever is on that network can read names, passwords and plans, and act as others"
KEY_OPEN = "{key} can be read by others on this machine: chmod 600 {key}"
OPEN_TO = {
    "here": "open to: whoever is on this machine, without a login, to do everything",
    "here, login": "open to: whoever is on this machine and has a login; nobody else reaches it",
    "network": "open to: whoever reaches {address} port {port} and has a login",
}
WHO_MAY = "logins: {count}; {roles}; with a second factor: {second}"
TRAIL_FAULTS = {
    "changed": "audit trail: CHANGED: line {line} is not as it was written",
    "missing": "audit trail: CHANGED: line {line} is missing",
    "end": "audit trail: CHANGED: the last lines, from line {line}, are missing or not as they were written",
}
TRAIL_WHOLE = "audit trail: every line from {first} to {last} is as it was written; last digest {digest}"
TRAIL_NOTED, TRAIL_NOT_NOTED = (
    "the digest you noted is that of a line of it",
    "the digest you noted is of no line there: lines were changed, or older than {first} and dropped",
)
TRAIL_STANDS = "audit trail: {lines} lines, last digest {digest}; to check it later, note that"
WRONG_LOGIN = "Name, password and code do not fit together."
TOO_OFTEN = "That was tried too often. Wait {minutes} min, then try again."
NOT_LOGGED_IN = "log in first"
LOGIN_ENDED = "Your login has ended. What was typed before is saved. Load the page again to log in."
PEOPLE_NOT_WRITTEN = "The list of people cannot be written: {why}. Nothing was changed; everything can be looked at."
PEOPLE_NOT_READ = "The list of people cannot be read: {why}."
PERSON_NAME = "A name has 1 to {most} letters."
PERSON_THERE = "There is a {name} already."
NO_SUCH_PERSON = "There is nobody called {name} here."
NO_SUCH_ROLE = "There is no role {role}; one of {roles}."
LAST_ADMINISTRATOR = "{name} is the last administrator: give that role to another person first."
PASSWORD_LENGTH = "A password has {least} to {most} letters: three words that do not belong together are good."
PASSWORD_COMMON = "That password is easy to guess or much used: take three words that do not belong together."
PASSWORD_NAME = "That password is a name or a word of this app: take three words that do not belong together."
PASSWORDS_DIFFER = "The two new passwords are not the same."
TOKEN_LABEL_NEEDED = "Say what the key is for: the name of the program or machine."
TOKEN_ROLE = "{name} may {role}: a key can do no more than its owner."
NO_SUCH_TOKEN = "There is no such key of this person."
SECOND_CODE, SECOND_HINT = "Code of your second factor", "Empty if you have none."
SECOND, SECOND_SET, SECOND_OFF = "Second factor", "Set up", "Remove"
SECOND_IS_OFF = (
    "Off. With it, logging in also asks for six digits that your telephone shows: a password alone is no use."
)
SECOND_IS_ON = "On. Recovery codes left: {left}. Set it up again for new codes, or for a new telephone."
SECOND_SCAN = "1. Scan this with an authenticator app, or type the letters: {secret}"
SECOND_QR = "QR code for an authenticator app"
SECOND_CONFIRM, SECOND_ON = "2. Type the six digits it shows", "Switch it on"
SECOND_CODES = "Second factor is on. Write these recovery codes down; each opens once, if the telephone is lost:"
SECOND_WRONG = "That is not the code of this moment. Is the clock of the telephone right?"
SECOND_NONE = "{name} has no second factor."
SAY_WHO, SAY_WHO_HINT = "Your password once more", "What is changed below asks for it, once in {minutes} min."
SAY_WHO_FIRST = "First type your password, at the top of this page."
LOGINS, LOGIN_HEADS, THIS_LOGIN = "Where you are logged in", ("since", "last used", "from address", ""), "this one"
END_OTHERS, OTHERS_ENDED = "End every other login", "Every other login has ended."
PEOPLE, MINE = "People", "My login"
PERSON_HEADS = ("name", "role", "since", "added by")
ADD_PERSON, ROLE, NEW_PASSWORD, SAME_AGAIN = "Add person", "Role", "New password", "Repeat new password"
CHANGE_ROLE, CHANGE_PASSWORD, END_LOGINS, REMOVE_PERSON = (
    "Change role", "Set a new password", "End every login", "Remove",
)  # fmt: skip
REMOVE_PERSON_ASK = "Remove {name}? What they did stays on record."
PERSON_ADDED, PERSON_CHANGED, PERSON_REMOVED = "Added: {name}.", "Changed: {name}.", "Removed: {name}."
ROLE_WORDS = {
    "look": "look: see everything, change nothing",
    "set up": "set up: plan, start, record",
    "administer": "administer: all that, and add people",
}
TRAIL, TRAIL_HEADS = "What happened, newest first", ("when", "who", "what", "", "from address")
TOKENS, TOKEN_HEADS = "Keys for other programs", ("key", "for", "role", "made", "ends", "last used", "")
MAKE_TOKEN, TOKEN_FOR = "Make a key", "What is it for?"
TOKEN_SHOWN = "This is the key. It is shown this once: {token}"
TAKE_BACK = "Withdraw"
NOT_SHARED_PAGE = "This app is open to this PC only: nobody logs in. heldtrue app --share opens it to the shop network."

# Setups
OPEN_DRAFTS = "Drafts"
NO_DRAFTS = "Nothing yet. Start a new setup, or take an example to look around."
EXAMPLES = "Or open one example of a repair shop for pumps and winches:"
STORED = "Saved setups"
NO_STORED = "No saved setup yet: the first start saves one."
WHAT_IT_DOES = "Hold a turned part in the chuck so that it stays in, runs true and comes off round"
NEW_PART, JOB_AGAIN, LOOK_AROUND = "New part", "Saved job again", "Look around"
FIND_SETUP, FIND_SETUP_HINT = "Search saved setups", "such as: 140 bronze lathe 3; part, material, Ø, machine, person"
NONE_FOUND = "No saved setup has all of this. Leave a word out."
FOUND_MORE = "and {count} more: type another word, or look under Saved setups below"
OPEN_FILE = "Open a setup file (TOML)"
OPENED = "Open"
REMOVE = "Delete draft"
REMOVE_ASK = "Delete this draft? What is in the records stays."
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
WORKER_HUNG = (
    "There is no answer: it took longer than {seconds:.0f} s and was given up. What you typed is saved. "
    "Change something or ask again."
)
POOL_BUSY = "Too many questions wait for an answer. Ask again in a minute."
STOP, STOPPED = "Cancel", "Stopped: there is no answer. Change something or ask again."
WORKING_FOR = "{words} {seconds:.0f} s"
FAILED = "Something went wrong in the computation; it is not your setup. What you typed is saved."
NO_SERVER_FILES = (
    "boring: template names a file of this computer; in the app only the examples may. Use heldtrue bore for it."
)

# Plan
DIAMETER, FROM_Z, TO_Z, AT_Z = "Ø", "from z", "to z", "at z"
FROM_DIAMETER, TO_DIAMETER, ROUNDING, CHAMFER = "from Ø", "to Ø", "Rounding", "Chamfer"
CORNER_AT, FACE_AT, CONE_AT = "Corner {number}", "Face at z {z}, Ø{inner} – Ø{outer}", "Taper"
TOLERANCES_OF, CUT_OF, SEAT = "Tolerances: {name}", "Cut: {name}", "Seat"
GRIP_HERE, TURN_HERE, GRIPPED_HERE, TURNED_HERE = (
    "Grip here",
    "Turn here",
    "Gripped here: {what}",
    "Turned here: {what}",
)
DRAWING_LABEL = "Drawing: arrow keys go from place to place, Enter opens its values"
DRAWING_HELP = "Touch a surface, a corner, the jaws or the chuck to change it."
LARGER = "Enlarge"
SECTIONS = ("Run", "Part", "Grip", "Chuck", "Jaws", "Cuts")
UNDO, UNDONE, NOTHING_TO_UNDO = "Undo", "Undone: {label}", "Nothing to undo."
START, JAWS, COMPARE, SHEET, PLAN = "Start", "Cut the jaws", "Compare", "Floor sheet", "Plan"
WAITING = "not applied yet"
SOLVING = "Working it out ..."
SOLVING_FOR = "Working it out: part, jaws, grip ... {seconds:.0f} s"
QUICK = "Quick look; every angle is being checked ..."
DONE = "Worked out in full in {seconds:.2f} s"
NOT_YET = "This cannot be planned yet"
HELD_BACK = "Below is still the answer from before. Not applied, check the field: {fields}."
VERDICTS = {"passes": "PASSES", "fails": "FAILS", "not proven": "NOT PROVEN", "cannot be": "CANNOT BE"}
VERDICT_MARKS = {"passes": "✓", "fails": "✕", "not proven": "?", "cannot be": "–"}
DECIDED_BY, MEASURE_FIRST, FROM = "Decided by", "Measure this first", "from"
PRESSURE, SET_ON_GAUGE, NO_WINDOW = "Pressure", "set on the gauge", "NO WINDOW"
STATED_HERE, ADVISED, OF_TOLERANCE = "stated, judged here", "Advised: {pressure}", "Form, share of its tolerance"
SHARE = "{share:.0%} of its tolerance"
BELOW, ABOVE = "Below {pressure}: {why}.", "Above {pressure}: {why}."
FLOOR, CEILING, STATED = "floor", "ceiling", "Checked at the stated {pressure}"
REMEDY = "Would help: {words}"
SPINDLE, TOP_SPEED, GRIP_FORCE = "Spindle limit", "top speed", "Grip force"
CHECKS, ASSUMED, SURFACES, NOTES, FROM_LOG = "Checks", "Assumed, taken at the worst", "Surfaces", "Notes", "Records"
NOTHING_ASSUMED = "Nothing is assumed."
CHECK_HEADS = ("state", "check", "margin", "decided by, from")
VALUE_OF, CAME_FROM = "{rule}{value}; at {end} {limit}", "{input}, {source}"
HAPPENS_FIRST = {True: "What would give way first: {words}", False: "What happens first: {words}"}
"""By whether the check passes."""
ODDS, ODDS_OF_ALL = "goes wrong: {odds}", "; any of {parts}: {odds}"
"""How likely a check goes wrong, for one part and for any part of the batch."""
ASSUMED_HEADS = ("input", "taken as", "could be", "measure this first")
SURFACE_HEADS = ("surface", "reads clamped", "form error, released")
DRAWINGS = {
    "section.svg": "Section", "chuck-face.svg": "Chuck face", "window.svg": "Pressure and speed",
    "contact-print.svg": "Contact print", "polar": "Shape, enlarged",
}  # fmt: skip
NO_PAPER = "No plan to print: wait for the full answer, and correct the fields that are not applied."
PAPER_HEADS = ("step", "pressure", "least", "most")
SIGN = ("Set up by", "Checked by", "Date")
CUT_ALL_THE_SAME = "The jaws can be cut as below, but the plan does not pass: the cut does not make it hold."
WHY_TABS = ("Reasons", "Map", "Contact", "Shape", "Assumed", "All values", "Notes")
"""One at a time below the drawing."""
CORNER_ADD, CORNER_REMOVE, CORNERS, BLANK = "Add a corner after {n}", "Remove corner {n}", "Finished part", "Blank"
SHOW_CORNERS = "Show the fields of all {count} corners"
FIRST_CORNERS = "Enter the corners"
CORNER_WORDS = "half section, corner by corner: diameter, and z from the seat"
CUT_ADD, CUT_REMOVE = "Add a cut", "Remove this cut"
SURFACE_OF_CUT = "Surfaces and what the drawing asks"
SURFACE_ADD = "Add a surface"
SURFACE_TAKE, SURFACE_TAKEN = "Take a surface of the part", "surface {name}"
SURFACE_THERE = "{name} is in the list already."
GRIP_TAKE, GRIP_ON = "Grip on a surface of the part", "grip on {name}"
GRIP_ELSEWHERE = "{name} runs from z {low} to {high}. Type a gripped z on it first, or empty both."
TAKE_CHUCK, TAKE_JAWS = "Take a chuck", "Take jaws"
NO_CHOICE = "current"

# Pictures of the plan page: map, part in three dimensions, outline while typing
MAP = "Pressure and speed: drag the ring, or move it with the arrow keys"
MAP_LABEL = "Working point on the map of pressure and speed"
MAP_HELP = (
    "Arrow keys move by {pressure} and {speed} (ten times that with Shift); Enter sets at once, a moment without a key sets too, Escape "
    "takes back. "
    "Dragging rounds to the same. The ringed dot or cross in the drawing is what is planned now."
)
MAP_STATES = {
    "passes": "held and true, with every unknown at its worst",
    "holds": "too little grip with every unknown at its worst: FAILS or NOT PROVEN",
    "true": "out of tolerance at the finish or over a plate limit: FAILS or NOT PROVEN",
    "both": "too little grip, and out of tolerance at the finish or over a plate limit: FAILS or NOT PROVEN",
    "off": "outside of the map",
}
MAP_MARKS = {"passes": "✓", "holds": "✕", "true": "✕", "both": "✕", "off": "–"}
MAP_SPARE = "to spare: grip {holds}, form and marks {true}; the full checks follow when you let go"
MAP_NOW = "as planned now"
MAP_ONE = "with one pressure for every cut: "
MAP_STEPS = "This setup needs {count} pressures: {steps}. The ring sets one pressure for every cut."
MAP_BACK = "Back to the advised"
MAP_SET = "Set on the map: {values}"
SOLID, SOLID_OPEN, SOLID_CLOSE = "Clamped and released, in three dimensions", "Open the 3-D view", "Close the 3-D view"
SOLID_STATES = {"clamped": "Clamped", "released": "Released"}
SOLID_ABOUT = (
    "{title}: at {pressure} ({other}) and {speed:.0f} rev/min for the finish, at the most grip that may give, "
    "part of the {fit} size"
)
SOLID_SAYS = {
    "clamped": "On radius {least} to {most}: every point where the clamped part puts it, before cutting.",
    "released": "On radius {least} to {most}: what is finished here, with its change of size; the rest is back.",
}
SOLID_NOTHING = {
    "clamped": "Nothing moves in or out by an amount that could be shown.",
    "released": "No turned surface made here comes off out of round; of a face see its flatness.",
}
SOLID_ENLARGED = "Enlarged {factor} times"
SOLID_FACTOR = "Enlarged (times)"
SOLID_WORKING = "Drawing the part in its jaws ..."
SOLID_STALE = "OLD: the setup has changed. This is not the shape of the setup above."
SOLID_KEYS = "Turn with a finger, the mouse or the arrow keys; + and − bring it nearer; Home shows it as at first."
SOLID_BAR = "radial displacement: minus is towards the axis"
SOLID_TURNS = (
    ("◀", "Turn left", -1, 0), ("▶", "Turn right", 1, 0), ("▲", "Turn up", 0, 1), ("▼", "Turn down", 0, -1),
)  # fmt: skip
SOLID_NEARER = (("+", "Nearer", 1.2), ("−", "Farther", 1 / 1.2))
SOLID_FIRST = "As at first"
SOLID_NO_WEBGL = (
    "This browser has no WebGL, which the 3-D view needs. The half section and the figures stand in its place."
)
SOLID_LABEL = "{state} part in three dimensions, {enlarged}. {says}"
ENLARGE, SAVE_SVG, CLOSE = "Enlarge: {name}", "Save (SVG)", "Close"
OUTLINE = "Half section as typed"
OUTLINE_GOOD = "The outline closes and does not cross itself."
OUTLINE_MORE = "and {count} more"

# What to measure, and what is assumed
TO_MEASURE = "What to measure"
TO_MEASURE_SAYS = (
    "What the shop could still find out, the one that pays most first. What you find goes into the field named; the plan "
    "then decides, by the worst case as before."
)
FINDING_MEASUREMENTS = "Trying what each measurement may find ..."
MEASURED_OLD = "OLD: the setup has changed. This is worked out again when the new plan stands."
MEASURE_AGAIN = "Work it out"
TURNS_PASS, WINDOW_NOW, WINDOW_AFTER = "turns it into a pass: {chance}", "window now", "expected after"
MINUTES, GOES_INTO, ENTER = "{minutes} min at the machine", "Goes into: {fields}", "Enter it"
GUESSED = "A yes or no that nobody can put odds on: counted as one in two."
CHANGE_NOTHING = "Change nothing here: {what}."
NOTHING_PAYS = "No measurement left moves the window as far as a gauge shows, or turns the plan."
NOTHING_LEFT = "Nothing is left to measure: every input is stated or measured."
WHAT_SPREADS, ODDS_PICTURE = "What spreads '{check}'", "What decides"
ASSUMPTIONS, ASSUMPTIONS_SAY = "Assumptions", (
    "The worst case takes the bad end of each range; the spread is for the odds alone."
)  # fmt: skip
ASSUMPTION_HEADS = ("input", "low", "likely", "high", "spread", "from", "why this spread", "what changes the range")
SPREAD_OF = {"setup": "one for all parts", "part": "another for each part"}
CHANGE_ASSUMPTION, INPUT_TO_CHANGE, SPREAD_AS_LISTED = "Change one", "Input", "as the table has it"
ASSUMPTION_SAVE, ASSUMPTION_REMOVE = "Save", "Remove ours"
ASSUMPTION_CHANGED, ASSUMPTION_REMOVED = "Assumption: {label}", "Assumption removed: {label}"
ASSUMPTION_EMPTY = "Give a spread{range}."
ASSUMPTION_OR_RANGE, RANGE_BOTH = ", or a range", "A range has two ends."
SEE_TO_MEASURE = "What to measure, and every assumption"

# Start
WINDOW_OF = "{step}: set {set} ({other}); {low} to {high}"
NO_WINDOW_OF = "{step}: no window"
GAUGE_SHOWS, YOUR_NAME, STEP = "The gauge shows", "Your name or initials", "Pressure step"
ASK_START = "May it start?"
MAY, MUST_NOT, OVERRIDDEN = "MAY START", "MUST NOT START", "MUST NOT START: OVERRIDDEN"
OVERRIDE = "Start it all the same"
OVERRIDE_REASON = "Why it holds all the same (kept with your name)"
IS_NEEDED = "needed"
ASK_FIRST = "Ask first whether it may start with this reading."
OVERRIDE_NEEDS = "An override needs a reason that says something."
NEED_GAUGE, NEED_NAME = "Type what the gauge shows.", "Give your name or initials: they are kept with it."
NEED_UNIT = "a bare number is {unit}"
CATALOGUE = "Catalogue"
CATALOGUE_WORDS = (
    "Every setup of the records, planned again when its chuck, its jaws, its part or heldtrue has changed."
)
MAY_NO_LONGER = "{stopped} of {all} may no longer start as they did"
CATALOGUE_LEFT = "{left} not re-planned since what they rest on has changed"
CATALOGUE_NEW = "{first} never re-planned"
CATALOGUE_READ = "Reading the records"
REPLAN_NOW = "Re-plan now"
REPLANNING = "re-planning, {left} left"
REPLAN_BEGINS = "re-planning"
REPLANNED = "Re-planned."
DOWNLOAD_CSV = "Download as CSV"
TURNED_SETUPS = "Turned"
NOTHING_TURNED = "No setup has turned."
NOT_PLANNABLE = "Cannot be planned"
DO_NOT_PASS = "Do not pass, and did not before"
CATALOGUE_FAILED = "{failed} cannot be planned"
CATALOGUE_REFUSED = "{refused} do not pass, and did not before"
LOOKED_AT = "Looked at"
LOOKED_AT_SAID = "{setup}: you have looked at it as it stands now: {verdict}."
PRINT_SHEET = "Floor sheet"
WAS_NOW = "was: {was}, now: {now}"
MORE_IN_CSV = "{more} more: download them as CSV"
BASIS = {
    "setup": "the setup", "chuck_log": "the log of the chuck", "jaw_history": "the history of the jaw set",
    "records": "what the records say of chuck and jaws today", "replanned": "the last re-plan of this setup",
}  # fmt: skip
"""What a decision rests on, by the name of its part."""
ANSWER_GONE = "There is no answer any more, something it rested on has changed: {why}. Ask again."
NOT_CONNECTED = (
    "Not connected to the server. What you type is kept in this browser and applied when the connection is back."
)
NOT_CONNECTED_ANSWER = "NO ANSWER: not connected to the server."
NOT_CONNECTED_START = "NO ANSWER: not connected to the server. Do not start on what stood here."
NOT_WITH_PENDING = "A field of the plan is not applied yet: correct it, or undo it, before a start is decided."
RECORDED = "Recorded: {who}"
LOADS, LOAD_HEADS = "Held at this pressure", ("load", "holds", "at", "with all of that up to")
ANY_SPEED, NO_SPEED = "any speed", "no speed"
EARLIER, EARLIER_HEADS = "Starts before", ("when", "gauge", "answer", "by", "override")

# Jaws
PLACING, PLACING_HEADS = "Where the jaws could stand, best first", (
    "place", "left to open", "left to close", "to cut per side", "web over bolts", "cuts left",
)  # fmt: skip
FORCES = "Forces while cutting, at their worst"
NUMBERS, STEPS, DRAWING, PROGRAM, PROOF = "What to cut", "At the machine, tick off", "Drawing", "Program", "Proof"
PATH_PICTURE, CANNOT_BE_CUT, NO_PROGRAM = "Path of the tool", "Cannot be cut", "There is no program"
SOLIDS = "The jaws as solids"
DOWNLOAD, DOWNLOAD_ALL = "Save {name}", "Save everything (ZIP)"
TAKEN = "Assumed"
CUTTING = "Placing, ring, bore and program ..."

# Compare
FORM_ERROR, PRESSURE_WINDOW = "form error", "pressure window"
COMPARING = "Planning every way to hold ..."
WAYS, LOOKING_FOR_WAYS = "How to hold it", "Looking at every way to hold it ..."
WAYS_SAYS = ("Every surface that jaws can reach, with every style and number of jaws. Those at the top are beaten by no other in everything: "
             "what they have to spare, the width of the window, and what the jaws cost.")  # fmt: skip
WAYS_LOOKED_AT = "{looked_at} ways looked at, {planned} planned in full."
WAYS_GO_ON = "Going on: {doing}."
NO_JAWS_HOLD = "No jaws hold this part as it is asked: the list says why."
WAYS_BEATEN = "Planned, and another is as good or better in everything"
WAYS_DROPPED, WAYS_DROPPED_HEADS = "Not planned in full", ("ways", "surface", "why")
NOT_JAWS_ALONE = "Not jaws alone"
SPARE_HOLD, SPARE_FORM = "To spare in holding", "To spare in form"
TAKE_OVER, TAKEN_OVER, AS_IT_IS = "Use this", "Now using {name}", "current"
NEEDS, WOULD_HELP = "needs", "would help"

# Shelf
FIND, FIND_HINT = "Search", "about 82, aluminium, last spring, machine 3"
NEAREST = "No set fits all of this: {what}. The nearest, {near}:"
NO_SETS, NO_FIT = "No jaw set is on the shelf yet.", "No set fits all of it: {what}. Leave something out."
CUT_FROM, ON_THE_MACHINE = "cut {when}", "on machine {machine}"
THE_WORD = 'the word "{word}" in material, part, setup, people, places or remark'
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
DOES_NOT_FIT = "does not fit"
LINE_WORDS = "{grip} at {pressure}; nothing up to {zero}; from {count} read"
PLANS_TAKE = "; plans take {low:.0%} to {high:.0%} of the plate's grip"
LINE_PICTURE = "Grip readings over pressure, and the line through them"
PUT_RIGHT = " (corrected later)"
NO_HISTORY = "Nothing is entered yet."
NEEDED = "{what}: this is needed"
KEPT = "Kept."

# Readings
TAB_INDICATOR, TAB_FEELER, TAB_DRIFT = "Indicator", "Feeler and bluing", "Drift"
DIAL_UNITS = {"um": "µm", "mm": "mm", "thou": "thou (.001 in)", "tenth": "tenths (.0001 in)", "in": "in"}
DIAL_UNIT, DIAL_PLACES, READ_SIDE, READ_SURFACE = "Unit of the dial", "Places round", "Read on", "Surface read"
DIAL_JAWS, DIAL_GRIP, DIVISION, RUNOUT_TOLERANCE = "Jaws", "Grip", "One division", "Run-out allowed"
DIAL_NUMBER, DIAL_NUMBER_HINT = "Number of the dial", "As it was learned with; empty: any of this division"
CLAMPED_AT = "Clamped at"
CLAMPED_AT_HINT = "left out: that of the run, or advised"
READ_SIDES = {"outside": "an outside", "inside": "a bore", "face": "a face"}
GRIP_SIDES = {"outside": "outside: jaws close", "inside": "inside: jaws open"}
FROM_DIGITS = "left out: from the digits"
SIGN_WORDS = "Plunger pushed in counts up. Angles from jaw 1, the way the jaws are numbered. Spindle stopped, locked."
SETTINGS_OF_DIAL = "How it is read"
SURFACE_NOT_SAID = "Say which surface was read: until then nothing stands beside the plan."
PLACE_AT, JAW_N = "{degrees}° from jaw 1", "at jaw {n}"
PLACE_N = "Place {n} of {count}"
NO_READING = "–"
READING_OF, TRACE_N = "reading at {degrees}°", "Trace {n}"
TRACE_ADD, TRACE_REMOVE = "Add a trace", "Remove this trace"
TRACE_ASK = "Remove this trace with its readings?"
ANEW_ASK = "Empty every trace? Undo brings them back."
TRACE_Z, TRACE_STATE, TRACE_TURNED = "Along the part, z", "Part is", "Part turned in the jaws"
TRACE_Z_HINT, TRACE_TURNED_HINT = "0 at the seat", "against the first trace"
TRACE_PRESSURE, TRACE_PRESSURE_HINT = "Clamped at, by the gauge", "where it differs from trace to trace"
PRESSURE_ABOVE_0 = '"{found}": expected a pressure above 0'
MADE = "This surface was turned"
MADE_WORDS = {"": "not said", "here": "in this clamping", "before": "before, and brought along"}
STATE_WORDS = {
    "not said": "not said",
    "clamped": "clamped",
    "free": "free, released",
    "spindle": "a test bar in the spindle",
}
MORE_TRACES = (
    "What tells most for the least work: two planes, then the part turned 108° in the jaws and clamped at half the "
    "pressure, both planes again, and whether this surface was turned in this clamping. Mark the part at jaw 1 first."
)
PAD_LABEL = "Number pad: digits, minus, Enter for the next place, arrows to move"
KEY_NEXT, KEY_BACK, KEY_DELETE, KEY_SIGN, KEY_COMMA = "Next", "Back", "Delete", "±", "."
DIAL_LABEL, DIAL_EMPTY = "Readings round the part, from jaw 1", "none yet"
DIAL_SCALE = "dots swing by|{size} at most"
DIAL_JAW = "dark: the jaw that|alone would do it"
DIAL_WAY = "↺ angles run|this way"
DIAL_HINT = "Tap a place to type there."
NO_NUMBER = '"{found}" is no number; expected one such as 5, -1.5 or 0,02'
TOO_MANY_DIGITS = "A reading has {most} digits at most: nothing was added."
TURNED_FAR = '"{found}": a part is turned by 0° to 360°'
JAWS_WRONG = '"{found}": expected 2 to 12 jaws'
SMALL_LENGTH = '"{found}": expected more than 0 and at most 1 mm'
PLACES_ASK = "{count} readings stand at places that would go. Go on? Undo brings them back."
TOO_FEW = "Type readings"
TOO_FEW_MORE = "From {least} readings round the part on the answer stands here; 12 are better."
TRACE_SHORT = "Trace {n} has {count} readings, {least} are needed: not used yet"
NOT_READ = "This cannot be read yet"
ASKED_BACK = "Is that right?"
ASKED_MORE = (
    "In {unit} the readings swing by {size} ({other}): that is unusual. The one furthest from the rest is {reading} at "
    "{degrees}°. Nothing is said of them before you have answered."
)
ASKED_INSTEAD, ASKED_SURE, ASKED_FIX = "They are in {unit}", "{unit} is right", "Look at {degrees}°"
CAUSE_SURE, CAUSE_NOT_SURE = "✓ What it is", "? Not settled: these fit equally well"
TIR, OFFSET, FACE_OFF, LOBES, LOBES_N = (
    "Run-out (TIR)", "Offset of the centre", "Face tilts by, each way", "Lobes", "{n} lobes, half the swing",
)  # fmt: skip
SCATTER, NONE, UP_TO = "Scatter of one reading", "none", "up to {n} looked for"
AT_LEAST, BETWEEN = "at least", "{low} to {high}"
NO_WAY = "No direction stands out: there is nothing to tap."
TAP = (
    "Stands off towards {way} from jaw 1, {where}. If it is set by tapping: there, towards the middle, by {size}; "
    "clamped lightly, spindle stopped."
)
FACE_HIGH = "The face stands out at {way} from jaw 1, {where}. If it is set by tapping: there, to the seat, by {size}."
AT_JAW, PAST_JAW, BEFORE_JAW = "at jaw {jaw}", "{degrees}° past jaw {jaw}", "{degrees}° before jaw {jaw}"
NEXT_TEST, IF = "Next test", "if"
BESIDE_PLAN, PLAN_AT = "Beside the plan", "{surface}, at {pressure} ({source}); half the swing of each lobe"
PLAN_HEADS, NOTHING_TO_COMPARE = ("lobe", "read and planned"), "Nothing to compare."
PLANNING_SURFACE = "The setup is being planned to compare with ..."
SETUP_NOT_WHOLE = "The setup cannot be planned, so nothing stands beside it: {why}"
BUDGET = "Where the run-out tolerance goes"
CAUSES = "Causes, largest first"
CAUSE_HEADS = ("cause", "explains", "at least", "at most", "evidence")
FIGURE_HEADS = {"metric": ("figure", "mm", "in"), "inch": ("figure", "in", "mm")}
KEEP_READINGS, SAVE_PAGE, SAVE_PICTURE, BEGIN_ANEW = "Keep in the records", "Page (PDF)", "Picture", "Start over"
NOTHING_TO_KEEP = "There is no answer yet, so there is nothing to keep."
NOTHING_TO_PRINT = "There is no answer yet, so there is nothing to print."
WITHOUT_SETUP = "Without a setup. From the plan page of a setup its prediction stands beside the readings."
OPEN_WITH_SETUP = "Open with a setup"
READINGS_OF = "Readings: {title}"
FEELER_NEEDS_SETUP = "The next taper is worked out with part, jaws and pressure: open the readings of a setup."
SEEN, SEEN_WORDS = "What was seen, clamped", {
    "": "not looked at yet",
    "gap tip": "feeler goes in at the tip", "gap base": "feeler goes in at the base, at the seat",
    "print base": "print runs from the base", "print tip": "print runs from the tip",
    "all": "print all along: no feeler goes in",
}  # fmt: skip
GAP, PRINT_LENGTH, TAPER_NOW = "Gap, thickest leaf that goes in", "Length of the print", "Taper the jaws have, per side"
GAP_HINT, PRINT_HINT = "clamped; try every jaw, take the usual gap", "from the end that touches"
TAPER_HINT = "left out: that of the setup"
SAY_SEEN = "Say what was seen of the jaws, or type finished parts."
PART_SIZES, PART_SIZES_HINT = (
    "Finished parts: Ø front, Ø back, pressure, free or clamped",
    (
        "one part a line: 50.012 50.004 25 bar free. Front: away from the chuck. Clamped: read in the chuck before release"
    ),
)
PART_SURFACE, PART_OVER = "Surface of the parts", "From front to back"
PART_OVER_HINT = "left out: the whole surface"
WHY_TAPERED = "Why the part is tapered"
PART_CAUSE = {
    "jaws": "The jaws", "machine": "Not the jaws", "both": "Jaws and machine", "none": "No taper stands out",
    "open": "Cannot tell",
}  # fmt: skip
ASK_TAPER = "Next taper cut"
TAPER_HEADS = {"metric": ("figure", "metric", "inch"), "inch": ("figure", "inch", "metric")}
WORKING_TAPER = "Pressing part and jaws together ..."
ACCEPT_SEEN = "Accept for these jaws"
TAPER_CUT, TAPER_STOP = "Cut next", "Stop here"
FEELER_WORDS = "Clamp at the pressure of the finish. Try a feeler at the tip and at the base, or blue the jaws."
PARTS_TEXT = "Parts in the order made"
PARTS_HINT = "one row for each part; headings such as part; bore_mm; runout_um; event. Paste it, or open a file (CSV)."
PARTS_FILE, PARTS_FROM = "Open a table (CSV)", "From the file {name}: {rows} lines."
PARTS_TOO_LARGE = "The table is larger than 1 MB."
PARTS_NO_TABLE = "{name} is no table: expected a file that ends in .csv or .txt"
PARTS_CLEAR = "Clear"
PARTS_NONE = "Paste or type measured parts, at least 2; from 5 after the last event a trend is told."
PARTS_UNITS, PARTS_UNIT_WORDS = "Unit where a heading names none", {"metric": "mm", "inch": "in"}
LOWER_LIMIT, UPPER_LIMIT = "{name}, least", "{name}, most"

# Typing: what is missing, who typed what, where a value came from
NO_PROFILE = "the corners of the finished part are missing: at least 3"
SAY_SEAT = "say whether the part rests on a seat or stop: without one it needs more grip"
NO_AREA = "the piston area is missing; an {side} grip needs it"
NO_CUT = "give at least the heaviest cut"
CUT_NEEDS, CUT_NEEDS_PLACE = "a {kind} cut needs it", "give the surface it makes, or its diameter and z"
CUT_NEEDS_SPEED = "give its cutting speed, or its spindle speed"
STILL_MISSING, TO_PUT_RIGHT = "Still missing: {count}", "To correct: {count}"
GO_THERE = "Press one to go there."
CONFLICT = "{who} typed {theirs}{when} while you had {mine} here. The answer is for theirs."
CONFLICT_SOMEBODY, CONFLICT_WHEN, CONFLICT_NOTHING = "Another window", " at {when:%H:%M}", "nothing"
KEEP_THEIRS, TAKE_MINE = "Keep theirs", "Take mine"
DID_YOU_MEAN, TAKE_IT = "Did you mean {value}?", "Take it: {value}"
SOURCE_OF, SOURCE_NOW = "Where {label} comes from", "Where {label} comes from: {source}"
SOURCES = {
    "stated": "stated: I say so", "measured": "measured", "plate": "off the plate", "drawing": "off the drawing",
    "handbook": "handbook", "assumed": "assumed",
}  # fmt: skip
SOURCE_HELP = "Alt+↓ in a field, or its ⋮: where the value came from. A value typed again counts as stated."
MORE, MORE_SET = "More", "More ({count} in use)"

# The shelf and what stands round it: scanning, photos, tags, runs, stock, chucks by hand
STOCK, SCAN, SCAN_BIG = "Stock", "Scan", "Scan a tag"
CHOOSE_PICTURE, OR_TYPE = "Choose a picture", "or type the number and press Enter"
NO_CODE = "No code was found in that picture. Go nearer, hold still, let light fall on the tag; or type the number."
SEVERAL_CODES = "There are several codes in that picture: {codes}. Take one tag alone, or type the number."
PICTURE_TOO_LARGE = "The picture is larger than {most} MB: take it at a lower setting."
PICTURE_TOO_WIDE = "The picture has {pixels} million points; {most} million are the most: take it at a lower setting."
PICTURES_WAIT = "Too many pictures wait to be read. Try again in a minute."
NO_PICTURE = "That is no picture this program can read: JPEG, PNG or WebP."
REJECTED = "That file was not taken: it must be a picture of at most {most} MB."
LABEL_FREE = "Label {id} is on no set yet."
UNKNOWN_CODE = "The records know no set and no label {id}."
LINK_LABEL, LINK_TO, LINKED = "It is stuck on a set we have", "Number of the set", "{label} is on {set}"
NEW_UNDER = "It is a new set"
TAKE_PHOTO, PHOTO_KEPT, PHOTO_OF = "Take a photo", "Photo kept.", "Photo of {set}, {when}"
TOOTH, CUTS_LEFT, CUTS_DONE, WEB, CHUCK, PART, DEEP = (
    "tooth", "cuts left", "cuts done:", "web over bolts", "chuck", "part", "deep",
)  # fmt: skip
JOB_FACTS = (
    ("part", "part.number"), ("revision", "part.revision"), ("chuck", "chuck.name"), ("jaw set", "jaws.number"),
    ("machine", "machine.name"),
)  # fmt: skip
PLANNED_ANEW = "The setup was changed: it is being planned again."
NOT_CUT, NOT_KNOWN, IS_IN, HAS_IT = "not cut yet", "not known", "on the shelf", "{who} has it"
JAW_MISSING, RETIRED, LIMITS, NO_LIMITS = (
    "jaw {numbers} is missing", "retired", "At most", "no plan of a setup with this set is kept: no limit is known",
)  # fmt: skip
HOLDER, MISSING_JAWS, MISSING_HINT = "Who takes it (you if empty)", "Jaws missing", "such as 2 or 1, 3; empty: none"
CONDITION, CONDITIONS, SET_CONDITION = "Condition", ("good", "skim first", "scrap"), "Keep condition"
CONDITION_KEPT = "{set}: {condition}"
RETIRE, RETIRE_ASK, RETIRED_NOW = (
    "Retire this set",
    "Take {set} off the shelf for good? Its history stays.",
    "{set} is off",
)
BACK_ON_SHELF, IS_BACK = "Put it back on the shelf", "{set} is on the shelf again"
WRONG_ENTRY, WHICH_ENTRY, WHY_WRONG = "Correct an entry", "Which entry", "What was wrong (kept with it)"
TAKE_ENTRY_BACK, PUT_DIAMETER, RIGHT_DIAMETER = "Take it back", "Keep this Ø instead", "Ø as it should be"
PUT_STEPS, RIGHT_STEPS = "Keep these steps instead", "Steps in the bore"
RIGHT_STEPS_HINT = 'Ø and height above the seat, as "100 25; 65.5 -4" (below 0: behind it), or "none"'
STEPS_NOT_KNOWN = "steps not recorded: look at them"
STEP_OF, ABOVE_SEAT, BEHIND_SEAT = "step Ø{size} {z} {where}", "above the seat", "behind the seat"
ENTRY_BACK, ENTRY_RIGHT, CHOOSE_ENTRY = (
    "Taken back; both stay in the history.",
    "Corrected; both entries stay.",
    "Choose an entry.",
)
ONLY_CUTS = "Only a cut has a Ø and steps: withdraw this entry, and enter it again."
PRINT_TAGS, PRINT_BLANK, TAG_SIZE, TAG_COUNT = (
    "Print tags",
    "Print blank tags",
    "Label, width x height in mm",
    "How many",
)
BLANK_WORDS = "Numbers alone: stick them on first, scan one later to say which set it is on."
PRINTED_BLANK = "{first} to {last}"
OPEN_PDF, PRINT_FILE = "Open {name}", "Print {name}"
PDF_GONE = "That print is no longer kept: make it again."
RECORD_CUT, CUT_DIAMETER, CUT_DEPTH = "Record this cut", "Ø as measured near the seat", "Depth as measured"
CUT_RECORDED = "{set}: cut {number} recorded. Stamp every jaw with its number and: {stamp}"
AS_PLANNED, MEASURED_WITHIN = "as planned, not measured", "measured within {error}"
CUT_HINT, CUT_DEPTH_HINT = "empty: Ø as planned, ± 0.05 mm", "jaw fronts to seat; empty: as planned"
CUT_ERROR, CUT_ERROR_HINT, CUT_DEPTH_ERROR_HINT = "It may be off by", "empty: 0.01 mm", "empty: 0.02 mm"
SET_OF_CUT = "The setup names no jaw set (Number of the set): a cut without one cannot be recorded."
WAY_OF_CUT, CUT_NEW, CUT_AGAIN = "Cut", "cut", "re-cut"
TOUCHED, FOUND_RUNOUT, WORK_OUT = "Ø touched off on the ring", "Run-out found", "Work it out"
TOUCH_FIRST = (
    "First put the jaws on the ring, touch off a diameter and type it: until then these numbers are the record's, and "
    "there is no program."
)
PROGRAM_AFTER_TOUCH = "The program counts from the diameter you touch off."
NO_CUT_NEEDED, METAL = "No cut is needed", "metal per side"
DIFFERS = "Different from the record"
SET_CHANGED = "The setup was changed: worked out again."
FOR_SETUP, FOR_HEADS = (
    "Jaws for {title}",
    ("", "set", "what it takes", "metal per side", "teeth", "web after", "to know"),
)
TAKE_SET, SET_TAKEN, ANY_STYLE, ANY_MATERIAL = "Take this set", "{set} taken", "Other styles too", "Other materials too"
BLANKS_FIT, BLANK_HEADS = (
    "Blanks a new set can be made of",
    ("blank", "style", "material", "teeth", "sets there", "where"),
)
OTHERS, OTHERS_HEADS = "Sets that do not fit, and why", ("set", "bored", "why not")
FINDING = "Looking through the shelf ..."
PENDING_FIRST = "A field of the plan is not applied yet: correct it, or undo it, first."
PAGE_OF, BEFORE, NEXT = "Page {page} of {pages}; {count} sets, by number", "Page before", "Next page"
SHOW_RETIRED, HIDE_RETIRED = "Show the retired too", "Without the retired"
RECORDS_OF = "Saved setup: {title}"
RUNS, RUN_HEADS = "Runs", ("when", "good", "scrap", "set to", "lot", "measured", "different", "remark", "by")
STARTS = "Starts"
NEVER_RAN, NEVER_STARTED = "It never ran, as far as the records know.", "No start is recorded."
SINCE_RUN, NOTHING_SINCE = "Different since the last run", "Nothing is different since the last run."
RECORD_RUN, GOOD_PARTS, SCRAP_PARTS, LOT = "Record a run", "Good parts", "Scrap", "Lot of the material"
SET_PRESSURE, SET_FINISH, SET_SPEED = "Pressure set", "for the finish, if another", "Spindle limit set, rev/min"
MEASURED_AS, MEASURED_HINT = "What was measured", "runout_mm=0.012; more with a space between"
RUN_KEPT, NO_GATE = "Run recorded.", "No start was decided at the gate for this setup."
KEEP_SETUP, WHY_CHANGED, SETUP_KEPT = (
    "Keep this setup in the records",
    "What changed, and why",
    "{id}: version {version}",
)
KEEP_FIRST = "It is not in the records yet. Keep it there with its plan; after that runs can be recorded."
OPEN_SETUP, MOVE_SETUP = "Open it to plan", "Another machine"
MOVE_TITLE, TO_CHUCK, TO_MACHINE, MACHINE_SPEED = (
    "Another machine: {title}",
    "Other chuck",
    "Its machine",
    "Its top speed",
)
MOVE, MOVING = "What changes there?", "Planning it on both ..."
SAME_FORCE = "Draw force {force}, here at {pressure}. The same draw force there: {there}."
THERE, BLOCKS, CANNOT_THERE = "The plan there", "BLOCKS", "It cannot be planned there"
BLOCKED = "It cannot run there unchanged"
DIFF_HEADS, NO_DIFFERENCE = ("difference", "here", "there", ""), "Nothing else is different."
OPEN_THERE = "Open it as a new setup there"
NO_OTHER_CHUCK = "No chuck with its plate is in the records: add one under Chucks."
VERSION_HEADS, VERSIONS = ("version", "when", "by", "why"), "Versions"
MACHINES, BLANKS, RINGS, TOOLS, REVISIONS = "Machines", "Jaw blanks", "Boring rings", "Tools that cut jaws", "Revisions"
MACHINE_HEADS = ("machine", "top speed, rev/min", "swing")
RING_HEADS, TOOL_HEADS = ("ring", "kind", "outside", "inside", "width", "where"), ("tool", "nose radius", "where")
BLANK_STOCK_HEADS = ("blank", "style", "material", "teeth", "size of one", "sets there", "where")
ADD_MACHINE, ADD_BLANK, ADD_RING, ADD_TOOL = "Add a machine", "Add blanks", "Add a ring", "Add a tool"
TOP_SPEED_RPM, SWING, WIDTH, LENGTH, HEIGHT, TEETH, IN_STOCK = (
    "Top speed, rev/min", "Largest Ø it turns", "Width", "Length", "Height", "Teeth", "Complete sets there",
)  # fmt: skip
CALLED, KIND, OUTSIDE, INSIDE, NOSE = "What it is called", "Kind", "Outside Ø", "Inside Ø", "Nose radius"
TAKE_BLANK, HOW_MANY_SETS, BLANK_TAKEN = "Take", "Complete sets taken", "{id}: {left} left"
FROM_FILE, IN_RECORDS = "or from its file (TOML)", "Saved: {ids}"
NEW_REVISION, PART_NUMBER, REVISION_LETTER, REVISION_CHANGES = (
    "A new revision came in", "Number of the part", "New revision", "What it changes",
)  # fmt: skip
AT_REVISION, OLD_REVISION = (
    "{part} is at revision {letter}.",
    "Setup {id} still has revision {old}: check it before the next run.",
)
HOW_MANY_JAWS = "How many jaws"
NOTHING_THERE = "None yet."
WRITE_OVER = "{ids}: there already. Put this in its place? What was written before stays in its history."
A_WHOLE_NUMBER, A_NUMBER = "{what}: found {typed!r}; a whole number is needed", "{what}: {why}"
ADD_CHUCK, EDIT_CHUCK, KEEP_CHUCK, CHUCK_KEPT = "Add a chuck", "Its plate", "Keep", "Chuck {id} is in the records"
CHUCK_NUMBER, ON_MACHINE, GREASE_DAYS, WHICH_GREASE = (
    "Inventory number",
    "Machine it stands on",
    "Days between greasings",
    "Which grease",
)
CHUCK_UNITS, DEVICE = "Units of bare numbers", "Which grip gauge"
WRONG_READING, READING_BACK = "Withdraw a reading", "Which reading"
PRINT_PAGE = "Print this page"
NO_VALUE_YET = "{label}: type a value first, then say where it came from."
GRIP_READINGS, RINGS_AT_HAND = "Readings of a grip gauge in this chuck", "Boring rings of the shop"
BORE_STEPS, OLD_STEPS = "Steps of the bore: more diameters (a nest)", "Steps that the last cut left in the jaws"
NO_OLD_STEPS, OLD_STEPS_NONE = "It has none", "None: the bore is one diameter."
OLD_STEPS_UNKNOWN = "Not known: a used set gets no program, and no plan in it is proven, before somebody looked."
ROW_ADD, ROW_REMOVE = "Add one", "Remove {what}"
SAVE_FILE, SAVE_COPY, COPY_NAME, COPIED = "Save as file", "Copy", "{id}-copy", "copy of {title}"
EDGES = "Rounded or chamfered corners"
NOT_SAID = "not said"
AGAIN, NEVER_RUN = "Repeat", "not run yet"
AND_MORE = "and {count} more"
LAST_RUN, NOTHING_CHANGED, CHANGED_SINCE = "last run {when:%Y-%m-%d}", "nothing changed since", "changed since: {what}"
TEMPLATE_FILE = "Program template of the control (TOML)"
TEMPLATE_TAKEN, TEMPLATE_GONE = "The template is saved with this setup.", "The template is removed."
TEMPLATE_REMOVE, TEMPLATE_LARGE = "Remove the template", "A template is 200 kB at most."
TEMPLATE_NOT_TEXT = "That is no text in UTF-8, so it is no template."

# The sample shop
SAMPLE, SAMPLE_SHOP = "Sample", "Sample shop"
SAMPLE_MARK = "Invented records to look around in. The app deletes this folder when the sample shop is taken away."
SAMPLE_BANNER = "SAMPLE SHOP: everything here is invented. Hold no real part by it."
SAMPLE_BACK, SAMPLE_LOADING = "Back to my own shop", "Setting the sample shop up: a few seconds."
SAMPLE_WORDS = "Invented setups, chucks, jaws and readings, in a folder of their own: nothing of them gets among yours."
SAMPLE_LOAD, SAMPLE_OPEN, SAMPLE_REMOVE = "Load the sample shop", "Open the sample shop", "Remove the sample data"
SAMPLE_ASK = "Delete the sample shop with everything that was done in it? Your own records are not touched."
SAMPLE_REMOVED, SAMPLE_THERE = "The sample data is removed.", "The sample shop is open at {address}"
SAMPLE_NOT_OURS = "{folder} is there but was not made by the sample shop: it is left alone."
SAMPLE_NOT_UP = "The sample shop did not start. Try again, or start heldtrue app --sample."
SAMPLE_ALONE = "--sample is for this PC alone: it does not go with --share"

# The API
API_FAILED = "something went wrong here; it is not your setup"
API_NEED_NAME = "by: give a name: what is entered is kept with one"
API_NO_PLATE = "the card of chuck {chuck} has no plate: give its table instead"
API_ONE_OF_READINGS = "give either readings, a table as text, or typed readings"
API_UNIT_OF_TYPED = "unit is for typed readings; a table says its units in the header, as reading_um"
API_DIAL_NEEDS_SETUP = "dial needs a setup: what a dial repeats to is kept with the chuck"
API_DIAL_OF_WHAT = "dial needs readings or again: what was read with it"
API_NEEDS_SETUP = "surface and pressure need a setup: its plan is what they are compared with"
API_NEEDS_PARTS = "surface and over say where finished parts were read: give parts"
API_SAY_TOUCH = "touch: say which end touches, base, tip or all; a gap by feeler is at the other end"
API_NO_LENGTH = "length: a print all along has no end to measure to; leave it out"
API_GAP_OR_LENGTH = "touch {touch}: give length, how far the print runs, or gap, at the other end"
API_FORCE_AT_PRESSURE = "force needs pressure: what the pressure gauge showed"
API_NOTHING_READ = "nothing was read: give touch, force, cut, readings or again; /learned only says what is known"
API_WHOLE_CUT = "the power of a cut: give cut, power, idle and speed together"
API_NO_COLUMN = "limits: there is no column {name} of sizes; there are: {there}"
