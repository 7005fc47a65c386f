"""Where the scanner keeps things: indices into its state, its tables and its columns.

The kernels take typed arrays and no objects, so every field has a number here. The
names are read by the kernels (numba freezes them as constants) and by ``reader``.
"""

from __future__ import annotations

from typing import Final

# --- letters -------------------------------------------------------------------------
A, B, C, D, E, F, G, H, I, J, K, L, M, N, O, P, Q, R, S, T, U, V, W, X, Y, Z = range(26)  # noqa: E741

NO_LETTER: Final = 0  # where a problem is about no letter

# --- move columns --------------------------------------------------------------------
# float64 columns. The places a path leads through have one element more than it has moves:
# move n goes from element n to element n + 1, unless it is listed as a jump.
AT_X, AT_Y, AT_Z, FILAMENT, FEED, LENGTH, JUMP_X, JUMP_Y, JUMP_Z = range(9)
N_FLOAT: Final = 9
# int64 columns
LINE, OFFSET, F_AT, JUMP_MOVE = range(4)
N_LONG: Final = 4
# int32 columns
F_LEN, LAYER, SETTING, KIND, FLAGS = range(5)
N_SHORT: Final = 5

# kinds of move
TRAVEL, EXTRUDE, WIPE, RETRACT, PRIME, PUSH = range(6)  # PUSH: E forward, no bead

# flags of a move
RAPID: Final = 1  # G0
MODAL: Final = 2  # the line gives no command; the last motion was repeated
ARC: Final = 4
BAD_ARC: Final = 8  # an impossible arc, taken as a straight line
NO_FEED: Final = 16  # no F so far; the default feed was taken
CHECKSUM: Final = 32  # the line ends in *checksum
MACHINE: Final = 64  # G53
FIRMWARE: Final = 128  # G10 or G11 with the rig's length
INVERSE_TIME: Final = 256  # G93
INCH: Final = 512  # G20

# --- arc columns (float64) -----------------------------------------------------------
ARC_MOVE, ARC_U, ARC_V, ARC_RADIUS, ARC_SWEEP, ARC_PLANE = range(6)
N_ARC: Final = 6

# --- event columns (float64) ---------------------------------------------------------
EV_BEFORE, EV_CODE, EV_LINE, EV_VALUE, EV_TOOL = range(5)
N_EVENT: Final = 5
(
    DWELL,
    HOME,
    TOOL_CHANGE,
    WAIT_HOT_END,
    WAIT_BED,
    SET_HOT_END,
    SET_BED,
    PAUSE,
    SYNC,
    PROGRAM_END,
    LEVEL,
    REMAINING,
) = range(12)

# --- settings in force (float64 row) -------------------------------------------------
SETTINGS: Final = (
    "tool",
    "hot_end_c",
    "bed_c",
    "fan",
    "feed_override",
    "flow_override",
    "print_acceleration_mm_s2",
    "travel_acceleration_mm_s2",
    "retract_acceleration_mm_s2",
    "acceleration_x_mm_s2",
    "acceleration_y_mm_s2",
    "acceleration_z_mm_s2",
    "acceleration_e_mm_s2",
    "speed_x_mm_s",
    "speed_y_mm_s",
    "speed_z_mm_s",
    "speed_e_mm_s",
    "corner_step_x_mm_s",
    "corner_step_y_mm_s",
    "corner_step_z_mm_s",
    "corner_step_e_mm_s",
    "corner_deviation_mm",
)
N_SETTING: Final = len(SETTINGS)
(
    TOOL,
    HOT_END,
    BED,
    FAN,
    FEED_OVERRIDE,
    FLOW_OVERRIDE,
    PRINT_ACC,
    TRAVEL_ACC,
    RETRACT_ACC,
    ACC,
) = range(10)
SPEED: Final = 13
CORNER: Final = 17
JUNCTION: Final = 21
N_LIMIT: Final = N_SETTING - PRINT_ACC
N_ROW: Final = N_SETTING + N_LIMIT  # a row of settings: behind them the line that set each limit

# --- other readings of the same file -------------------------------------------------
(ALT_G90, ALT_RELATIVE, ALT_EXPONENT, ALT_MODAL) = range(4)
N_ALT: Final = 4
ALL_TAKE_IT: Final = 0  # no other reading leaves this E word out
M82_OR_M83, G90_OR_G91 = range(2)  # what set an E mode
MAX_TOOLS: Final = 16
BIG_WORDS: Final = 8  # G or M words kept from one line

# --- float state ---------------------------------------------------------------------
f_x, f_y, f_z, f_e = range(4)  # position in program coordinates, mm
f_shift: Final = 4  # program − machine coordinate, per axis
f_saved: Final = 7  # shifts put aside by G92.2
f_feed: Final = 10  # F in force, mm/s (or 1/s under G93)
f_scale: Final = 11  # mm per unit
f_set: Final = 12  # settings in force
f_temps: Final = f_set + N_SETTING  # hot-end target per tool
f_values: Final = f_temps + MAX_TOOLS  # the line's words, by letter
f_number: Final = f_values + 26  # the number just read
f_alt_word: Final = f_number + 1  # the E word of this line if 'e' were no exponent
f_extruding: Final = f_alt_word + 1  # path lengths, mm
f_travel: Final = f_extruding + 1
f_climbing: Final = f_travel + 1  # extruding path on which z changes
f_net: Final = f_climbing + 1  # filament, mm
f_forward: Final = f_net + 1
f_flow_net: Final = f_forward + 1  # what M221 adds to them
f_flow_forward: Final = f_flow_net + 1
f_box: Final = f_flow_forward + 1  # min x y z, max x y z
f_layer_z: Final = f_box + 6
f_alt_e: Final = f_layer_z + 1  # E position per other reading
f_alt_net: Final = f_alt_e + N_ALT  # filament of the other reading less ours
f_alt_forward: Final = f_alt_net + N_ALT
f_retract_mm: Final = f_alt_forward + N_ALT
f_retract_mm_s: Final = f_retract_mm + 1
f_arc: Final = f_retract_mm_s + 1  # centre u v, radius, sweep, length of the arc just solved
f_target: Final = f_arc + 5  # where the line's axis words lead, program coordinates
f_words: Final = f_target + 3  # X Y Z E F of a line on the fast path
f_lines: Final = f_words + 5  # the line that set each limit
f_drawn: Final = f_lines + N_LIMIT  # filament drawn back and not pushed forward again yet
f_per_e: Final = f_drawn + 1  # mm of filament per unit of E: not 1 where E is a volume
f_diameter: Final = f_per_e + 1  # of the rig's filament
f_firmware: Final = f_diameter + 1  # filament drawn back by G10
N_FSTATE: Final = f_firmware + 1
LONGEST_PULL_MM: Final = 20.0  # one E word that draws back or pushes more is a sign of a misreading
REFILL: Final = 0.5  # of a move's filament: where that much was drawn back it lays no bead

# --- integer state -------------------------------------------------------------------
(
    i_base,
    i_line,
    i_moves,
    i_events,
    i_arcs,
    i_settings,
    i_jumps,
    i_problems,
    i_dirty,
    i_relative,
    i_relative_e,
    i_follow,
    i_motion,
    i_plane,
    i_inverse,
    i_absolute_centre,
    i_has_feed,
    i_ended,
    i_retracted,
    i_homed,
    i_diverged,
    i_decimals,
    i_units,
    i_mask,
    i_bare,
    i_words,
    i_ng,
    i_nm,
    i_f_at,
    i_f_len,
    i_insert,
    i_checksum,
    i_dead,
    i_has_alt,
    i_status,
    i_number_decimals,
    i_split,
    i_exponent,
    i_layer,
    i_n_layers,
    i_layers_full,
    i_n_moves,
    i_n_extruding,
    i_n_modal,
    i_n_arcs,
    i_n_bad_arcs,
    i_n_absolute,
    i_n_exponents,
    i_n_commands,
    i_n_unknown,
    i_unknown_more,
    i_checksums,
    i_name_at,
    i_name_len,
    i_upper,
    # the plan of a line: what its commands ask for, -1 or 0 where they do not
    i_plan,
    i_going,
    i_new_plane,
    i_new_units,
    i_new_distance,
    i_new_centre,
    i_new_inverse,
    i_naming,
    i_stop,
    i_homing,
    i_dwell,
    i_machine,
    i_owned,
    i_foreign,
    i_pull,
    i_used,
    i_whole,
    i_n_firmware,  # G10 and G11 carried out
    i_n_signs,  # E words that only the other reading of G90 and G91 makes plausible
    i_n_counter_signs,  # and those that only ours does
    i_level,
    i_alt_relative,
) = range(77)
N_PLAN: Final = i_stop + 1 - i_plan  # the slots that start at -1
i_g: Final = i_alt_relative + N_ALT
i_m: Final = i_g + BIG_WORDS
i_g_at: Final = i_m + BIG_WORDS
i_count: Final = i_g_at + BIG_WORDS  # problems by kind
MAX_KINDS: Final = 40
N_ISTATE: Final = i_count + MAX_KINDS

# what reading a number found
NUMBER, NOTHING, MALFORMED, TOO_LARGE, EXPRESSION = range(5)

# --- unknown words (int64 rows) ------------------------------------------------------
U_KEY, U_COUNT, U_AT, U_LEN = range(4)
U_LINES: Final = 4
UNKNOWN_LINES: Final = 10
N_UNKNOWN: Final = U_LINES + UNKNOWN_LINES
MAX_UNKNOWN: Final = 200
NAMED_KEY: Final = 1 << 62
WORD_LENGTH: Final = 0  # the length noted of a word that is spelt from its key
PARAMETER_SHIFT: Final = 54
LETTER_SHIFT: Final = 48

# --- problem columns (float64) -------------------------------------------------------
PR_KIND, PR_LINE, PR_BYTE, PR_VALUE, PR_LETTER = range(5)
N_PROBLEM: Final = 5
MAX_PROBLEMS: Final = 256

(
    P_MALFORMED,
    P_TOO_LARGE,
    P_NO_NUMBER,
    P_CHARACTER,
    P_EXPRESSION,
    P_TWICE,
    P_GROUP,
    P_TOO_MANY,
    P_NO_MOTION,
    P_AXIS_CLASH,
    P_CHECKSUM,
    P_LINE_NUMBER,
    P_LONG_LINE,
    P_OPEN_COMMENT,
    P_NESTED_COMMENT,
    P_ARC_RADII,
    P_ARC_WORDS,
    P_ARC_RADIUS,
    P_TURNS,
    P_FEED,
    P_NO_FEED,
    P_TOOL,
    P_OVERRIDE,
    P_DWELL,
    P_EMPTY_G92,
    P_AFTER_END,
    P_SPLIT_NUMBER,
    P_SETTING,
) = range(28)

# --- shapes of lines (rows of uint64, see _kernel_shape) --------------------------------
SHAPE_SIZE: Final = 64
SHAPE_SHIFT: Final = 56  # the highest bits of 64 that remain choose a shape's place
N_SHAPES: Final = 1 << (64 - SHAPE_SHIFT)

# --- bounds --------------------------------------------------------------------------
PAD: Final = 64  # line ends behind the text, so that as many bytes can be read at once
LONG_LINE: Final = 1 << 20
LARGEST_NUMBER: Final = 1e9
MAX_TURNS: Final = 10_000
DEFAULT_FEED_MM_S: Final = 25.0
THINNEST_FILAMENT_MM: Final = 0.1  # beyond these a diameter is a slip
THICKEST_FILAMENT_MM: Final = 20.0
SLOWEST_FEED: Final = 1e-6  # mm/s, or 1/s under G93: less is taken for a slip
ARC_TOLERANCE_MM: Final = 0.002
ARC_TOLERANCE_INCH: Final = 0.0002
LAYER_STEP_MM: Final = 1e-4
LAYER_SLOTS: Final = 1 << 16
EMPTY_SLOT: Final = -(1 << 62)
