"""What is in force between two lines of a program, as the kernels take it: places in arrays."""

#: Places in the whole-number part of the state, int64.
LINE = 0  #: lines finished
ROW = 1  #: moves written
ARC = 2  #: arcs written
WHY = 3  #: why ``read_lines`` came back: DONE, ODD or FULL
MOTION = 4  #: 0 to 3 for G0 to G3; below 0 when no such code is in force
INCREMENTAL = 5
NORMAL = 6  #: axis normal to the arc plane: 2 for G17, 1 for G18, 0 for G19
PATH = 7
SLOT = 8
SAID = 9  #: bits SAID_*: what the program has stated so far
SAID_AT_MOVE = 10  #: ``SAID`` as it was at the first move
SAID_AT_ARC = 11  #: the same at the first arc
LONGEST_LINE = 12
SEMICOLONS = 13  #: 1 if a semicolon opens a comment
NUMBER_DIGITS = 14  #: digits that an N number may have
CENTRES_ABSOLUTE = 15
WIDE_COMMENTS = 16  #: 1 if a comment may hold bytes above 126
DOUBT = 17  #: bits 1, 2, 4: X, Y, Z are not sure since a line before could not be read
LOWER_CASE = 18  #: 1 if letters may be small
WHOLES = 19

#: Places in the real part of the state, float64.
PLACE = 0  #: three: where the controlled point is [mm]
SHIFT = 3  #: three: origin of the system and G92 offset together [mm]
UNIT = 6  #: mm in one unit of the program's numbers
FEED = 7  #: the F number in force, units per minute
SPEED = 8  #: the S number in force
SPINDLE = 9  #: commanded, rev/s, clockwise positive
ROUND_MM = 10  #: how far start and end radius may differ by the standard
ROUND_LOOSE_MM = 11  #: how far they may differ by the rules of reading
ROUND_WORST_MM = 12  #: the largest difference beyond the standard's
REALS = 13

DONE, ODD, FULL = 0, 1, 2
SAID_UNITS, SAID_DISTANCE, SAID_PLANE = 1, 2, 4

#: Rows of the table of things tolerated: how often, and the first line. int64, (TOLD, 2).
TOLD_SEMICOLON, TOLD_NUMBER, TOLD_ROUND, TOLD_WIDE = 0, 1, 2, 3
TOLD = 4
