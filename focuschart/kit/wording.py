"""What the interview says: for each key of the kit a prompt, an example and an explanation."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Item:
    """The wording of the question for one key; measured facts have no default, only an example."""

    key: str
    prompt: str
    help: str
    example: str = ""
    default: str = ""


NEAREST_HELP = (
    "The shortest subject distance its ring can be set to, measured from the sensor mark on the "
    "camera body, not from the front glass."
)
GLASS_HELP = (
    "How thick the glass of this group is on its axis, all its elements together. Estimate it "
    "from the side with a caliper if you cannot measure it; 2 mm more or less does little harm."
)

KIT = (
    Item("name", "Name of the kit", "Printed on every sheet and card.", default="My bag"),
    Item(
        "units",
        "Units on the marks: metric, imperial or both",
        "What is printed on strips and card. Your answers may be in any unit.",
        default="metric",
    ),
)
DISTANCES = Item(
    "distances",
    "Subject distances to mark, with commas between",
    "Every distance you want a mark for on both rings, from the sensor mark; inf is infinity. "
    "Only distances that every rig can focus are taken. A single rig can be given its own in the "
    "kit file.",
)
STOPS = Item(
    "stops",
    "Stops for depth of field, the working stop first",
    "F-numbers with commas between. Bars and tolerances on the strips are for the first one.",
)
CAMERA = (
    Item("name", "name", "Any name; to tell your cameras apart.", default="Camera"),
    Item(
        "sensor_width",
        "sensor width",
        "Of the sensor mode in use, from the camera's data sheet: 36 mm x 24 mm is full frame, "
        "24.9 mm x 18.7 mm Super 35, 17.3 mm x 13 mm Four Thirds.",
        default="36 mm",
    ),
    Item("sensor_height", "sensor height", "As for the width: of the mode in use.", "24 mm"),
    Item(
        "flange_focal_distance",
        "flange focal distance",
        "From the lens mount to the sensor, a fixed figure of the mount (with an adapter: that of "
        "the lens's own mount).",
        example="18 mm",
    ),
)
LENS = (
    Item("name", "name", "As it shall be printed on strips and card.", example="85 mm f/1.8"),
    Item("focal_length", "focal length", "As engraved on the taking lens.", example="85 mm"),
    Item("widest_stop", "widest stop", "The smallest f-number engraved.", example="1.8"),
    Item("nearest", "nearest subject", NEAREST_HELP, example="0.85 m or 2 ft 9 in"),
    Item(
        "focusing",
        "how it focuses, extends, internal or cam",
        "extends: the whole lens moves forward for near subjects. internal: glass moves inside "
        "and the front stays where it is. cam: a cam turns the ring as its maker liked, or you "
        "do not know; it asks for readings at six distances.",
        default="extends",
    ),
)
FRONT_MOVES = Item(
    "front_moves",
    "focusing moves its front, yes or no",
    "Yes if turning the focus ring carries the front rim, and so the attachment, forward.",
    default="yes",
)
LENS_LENGTH = Item(
    "length",
    "length from mount to front rim",
    "With the ring at infinity, from the mount's bearing face to the rim the step ring screws "
    'into. Answer "skip" to measure each rig as a whole instead, later in these questions.',
    example='72 mm, or "skip"',
)
ATTACHMENT = (
    Item("name", "name", "As it shall be printed on strips and card.", example="Brass 2x"),
    Item(
        "squeeze",
        "squeeze",
        "The nominal squeeze at infinity, a plain number such as 1.33, 1.5 or 2.",
        default="2",
    ),
    Item(
        "moving_group",
        "the group its ring moves, front or rear",
        "Turn the ring and look: front if the front glass comes forward or goes back, rear if it "
        "stands still and the rear glass moves.",
        default="front",
    ),
    Item(
        "ruler_separation",
        "ruler separation of front and rear glass",
        "With its ring at infinity, lay a ruler along the barrel: from the middle of the front "
        "group's glass to the middle of the rear group's. A few millimetres more or less do no "
        "harm, the readings correct it.",
        example="88 mm",
    ),
    Item("front_glass", "thickness of the front glass", GLASS_HELP, example="12 mm"),
    Item("rear_glass", "thickness of the rear glass", GLASS_HELP, example="14 mm"),
    Item("nearest", "nearest subject", NEAREST_HELP, example="1 m or 3 ft 3 in"),
    Item(
        "length",
        "length from rear rim to foremost glass",
        "With its ring at infinity, from the rim that meets clamp or step ring to the foremost "
        'point of the front glass. Answer "skip" to measure each rig as a whole instead.',
        example='95 mm, or "skip"',
    ),
)
RING_SIZE = Item(
    "size",
    "focus ring measured by circumference or diameter",
    "Circumference: a tape once round the bare ring. Diameter: a caliper across it. A tape is "
    "the better of the two on a ribbed ring.",
    default="circumference",
)
RING_SIZES = {
    "circumference": Item(
        "circumference",
        "circumference of the focus ring",
        "Wrap a strip of paper tightly round the bare ring, mark where it meets, measure it flat.",
        example="258 mm",
    ),
    "diameter": Item(
        "diameter",
        "diameter of the focus ring",
        "Across the bare ring, where the strip will lie.",
        example="82 mm",
    ),
}
RING = (
    Item(
        "nearer_turns",
        "ring turns nearer clockwise or anticlockwise, seen from behind the camera",
        "As you see it from behind the camera, looking toward the subject: turn the ring from "
        "infinity to near and watch its top; clockwise if the top goes to the right.",
    ),
    Item(
        "lead",
        "lead of the ring, its travel in one whole turn",
        "How far the moving part would travel if the ring were turned once round. Turn it by a "
        "known part of a turn, measure the travel and scale it up; half a turn and 15 mm make "
        '30 mm. It saves a reading; answer "skip" if you do not know it.',
        default="skip",
    ),
)
MORE_HELP = "Answer yes if there is another one in the bag that you want marks for."
LINK = Item(
    "kind",
    "step ring, clamp or none (more) between lens and attachment",
    "Step rings and clamps that stand between the taking lens and the attachment, one after the "
    "other; none when there are no more.",
    default="none",
)
LINK_FIELDS = (
    Item("name", "name", "To tell it from the others.", example="Step-up 72 to 77"),
    Item(
        "thickness",
        "thickness",
        "What it adds to the length: from face to face with the threads screwed home; 0 mm if "
        "it adds nothing.",
        example="3 mm",
    ),
)
RIG_WANTED = Item(
    "wanted",
    "marks wanted for this pair, yes or no",
    "A rig is one camera, one taking lens and one attachment. Each gets strips and a card.",
    default="yes",
)
RIG_NAME = Item("name", "name of the rig", "Printed on its strips and card.")
CHAIN = Item(
    "chain",
    "its parts from lens to front, by number with commas between",
    "Which step rings and clamps this rig uses, in order from the lens; none if it uses none.",
)
FRONT_VERTEX = Item(
    "front_vertex",
    "from the sensor mark to the foremost glass",
    "Mount the whole rig and set both rings to infinity. Hold a tape from the sensor mark on the "
    "body, parallel to the axis, to the foremost point of the front glass.",
    example="215 mm",
)
WRITE = Item(
    "write",
    "Write the kit now",
    "yes writes the file. < goes back to any answer, Ctrl-C stops without writing.",
    default="yes",
)
