"""Where each reference value of motors, screws, structure and measuring is checked.

Each row: what it is, how far its source goes (read, memory, or computed from the stated formula for
this project), the test, and figures that must stand in that test. A row whose test was renamed or
lost its figures fails here.
"""

import ast
import re
from functools import cache
from pathlib import Path

TESTS = Path(__file__).parents[1]
B, D, F, M, S = (
    f"handbook/test_{name}.py::test_" for name in ("beams", "drives", "frame", "motors", "screws")
)
Y, P = "handbook/test_metrology.py::test_", "handbook/test_supply.py::test_"
G = "physics/test_geometry_errors.py::test_"
L = "physics/test_slides.py::test_"
MACHINE = "machine/test_{}.py::test_"

ROWS = [
    # --- stepper motors and drive
    ("full-step angle, 50 teeth", "read", f"{M}teeth", "50"),
    ("full-step angle in degrees", "read", f"{D}full_step", "50 1.8"),
    ("lead of a screw of several starts", "read", f"{D}position", "12.7"),
    ("positions to the inch and the mm", "computed", f"{M}resolution", "4000 3200 10000 400"),
    ("one position: 6.35, 7.9375, 2.54, 2.5 µm", "computed", f"{D}position", "6.35 7.9375 2.5"),
    ("torque against angle, slips past 90°", "memory", f"{M}largest_speed_jump_by_time_steps",
     "1343.5"),
    ("torque of one microstep", "read", f"{M}incremental_torque",
     "100 70.71 38.27 19.51 4.91 0.61"),
    ("microsteps before the shaft moves", "memory", f"{M}microsteps_to_move", "1.01"),
    ("the same, step by step", "computed", f"{D}microsteps_against_the_increments_added_up", "256"),
    ("standing error of half the torque", "computed", f"{M}standing_error", "0.6 0.0212"),
    ("electrical resonance", "computed", f"{M}electrical_resonance", "223.9 156.7"),
    ("mid band: fitted to tests", "memory", f"{D}mid_band_is_found_again", "0.8"),
    ("torque constant and driven torque", "computed", f"{M}torque_constant", "479.82 1343.5"),
    ("voltage limit alone", "computed", f"{M}voltage_limit_alone", "1054 529 1139"),
    ("corner speed", "computed", f"{M}corner_speed", "326.8 506.8 686.7"),
    ("pull-out, both limits, 24 V", "computed", f"{M}pull_out", "1344 1256 925 629 464"),
    ("pull-out, both limits, 48 V", "computed", f"{M}pull_out", "1344 1212 976"),
    ("back-EMF and impedance: phasors", "memory", f"{M}pull_out_against_a_general_optimiser",
     "SLSQP"),
    ("quick limit, speed", "computed", f"{M}quick_limit", "857"),
    ("quick limit, time of a step", "computed", f"{D}quick_limit_step_time", "0.35e-3"),
    ("reflected inertia, screw inertia", "computed", f"{M}inertia", "61.28 15.78"),
    ("demand by efficiency", "computed", f"{D}demand_by_efficiency", "808.5"),
    ("square-thread screw, 20 kN", "read", f"{S}ball_screw_utah", "45500 45470"),
    ("share of the pull-out curve to use", "memory", f"{D}the_range_holds_the_time_domain_model",
     "1004"),
    # --- screws, belts, racks
    ("L-a power screw, Shigley 8-1, with collar", "read", f"{S}collar_shigley_8_1",
     "26180 9770 0.311 26177 9774 0.3113"),
    ("L-a without collar, up", "computed", f"{S}raising_torque", "15940"),
    ("L-a without collar, down", "computed", f"{S}lowering_torque", "-466"),
    ("L-b Acme screw, Mott 17-1, torque", "read", f"{S}raising_torque", "1809 1814.4"),
    ("L-b lead angle, efficiency", "read", f"{S}lead_angle_and_efficiency_mott_17_1",
     "3.39 0.274 0.275"),
    ("L-c square screw, Bhandari 6.9", "read", f"{S}collar_bhandari_6_9", "3402.198556"),
    ("L-d bottle jack", "read", f"{S}bottle_jack", "4.5 0.34 4.481 0.3391"),
    ("L-e stress in a screw", "read", f"{S}screw_stress", "4.6 146.0 4.8 145.4"),
    ("L-e closed form", "read", f"{D}stress_closed_form", "2344.0"),
    ("L-f 1/2-10 Acme, 1, 2, 5 starts, up", "computed", f"{S}raising_torque", "652.0 866.0 1537.6"),
    ("L-f down", "computed", f"{S}lowering_torque", "238.0 37.6 -538.4"),
    ("L-f angle, efficiency, locking", "computed", f"{S}half_inch_acme",
     "4.046 8.052 19.478 0.310 0.467 0.657 0.0685 0.1370 0.3424"),
    ("L-g Tr8 with lead 8, up", "computed", f"{S}raising_torque", "216.1"),
    ("L-g down", "computed", f"{S}lowering_torque", "-51.0"),
    ("L-g efficiency", "computed", f"{D}trapezoidal_efficiency", "0.589"),
    ("L-h whip, theory and first catalogue", "read", f"{S}whip", "1470 2297 3333 1469 2160 3276"),
    ("L-h whip, second catalogue", "read", f"{D}whip_by_the_second_catalogue", "1179 1835 2661"),
    ("L-i Euler, four ends", "computed", f"{S}euler", "319.5 1278 2556 5112"),
    ("L-j Johnson", "computed", f"{S}johnson", "26893 59.06 101.07"),
    ("L-j change of law", "computed", f"{D}johnson_begins_where_it_should", "101.07"),
    ("L-k rectangular column", "read", f"{D}a_rectangular_column_by_its_radius_of_gyration",
     "1539 250"),
    ("L-l stiffness along a screw", "computed", f"{S}axial_stiffness", "27970 73410 11230"),
    ("L-m lead error over a travel", "computed", f"{D}lead_accuracy", "0.40"),
    ("L-n belt, rack", "computed", f"{P}pulses", "25.4648"),
    ("L-n belt, rack, by motor turns", "computed", f"{M}resolution", "40 25.4648"),
    ("L-o classes of ball screws", "read", f"{D}lead_accuracy", "842 0.021 0.040"),
    ("flank angle in the axial plane", "computed",
     f"{D}axial_flank_is_as_good_as_the_normal_one", "1e-3"),
    ("self-locking below half", "read", f"{D}self_locking_is_an_efficiency_below_one_half", "0.5"),
    ("drag of a ball nut", "memory", f"{D}ball_nut_drag", "0.05"),
    ("rack: lead, thrust, inertia", "computed", f"{D}rack", "1000"),
    ("ends of the whip formula", "computed", f"{D}ends_by_theory", "2.046"),
    # --- structure and cutter
    ("K-a tube, its section", "computed", f"{B}tube_section", "5.5853e5 1.8429e5 4.2720e5"),
    ("K-b tube, bent", "computed", f"{B}mid_and_quarter_loads", "39.41 9.852 31.14"),
    ("K-c tube, twisted", "computed", f"{B}twist", "2.0257e-4 0.02026"),
    ("K-d round tube, exact and thin", "computed", f"{B}round_tube_exact_and_bredt",
     "2.45624e5 2.44627e5"),
    ("K-e rectangle, bent and sheared", "computed, inputs read", f"{B}printed_rectangle",
     "22.974 0.0465 5.7435"),
    ("K-f torsion box", "computed", f"{B}torsion_box",
     "1.27411e5 3.61473e6 0.1413 0.0415 0.1828 26.04"),
    ("K-f ratio", "computed", f"{B}torsion_box_against_one_board", "184.3"),
    ("K-g Hertz, line and ball", "computed", f"{B}hertz",
     "113147 0.10608 600.1 0.14909 4.446e-3 2148 33740 22490"),
    ("K-h roller on race", "memory", f"{B}palmgren", "4.283e-3"),
    ("K-i stepped cutter", "read", f"{B}stepped_cutter", "30.11 54.38 22.27"),
    ("K-j mass on a spring, sag", "computed", f"{B}frequencies", "102.7 15.76"),
    ("K-k supported tube swings", "computed", f"{B}frequencies", "280.1"),
    ("K-l growth by warmth", "computed", f"{Y}growth", "0.117 0.236"),
    ("K-m V-wheel, its flanks", "computed", f"{B}v_wheel", "141.4"),
    ("even load, three ways held", "memory", f"{B}even_load_against_a_solver", "solve_bvp"),
    ("ribbed core", "memory", f"{B}ribbed_core", "60"),
    ("displacement from a beam, with lever", "computed", f"{F}force_below_a_beam_twists_it", "150"),
    # --- measuring
    ("ISO 230-2, the axis", "read", f"{Y}the_axis_of_the_open_report",
     "1.22e-5 5.4e-6 6.882e-5 3.68e-5 2.77e-5 8.881e-5 5.033e-5 2.46e-5 6.428e-5 6.290e-5 3.30e-5"),
    ("ISO 230-2, each target", "read", f"{Y}each_target_of_the_open_report", "-9.242e-5"),
    ("ISO 230-2, relations", "memory", f"{Y}relations_of_positioning", "e_up"),
    ("M-a square turned round", "computed", f"{Y}square_turned_round", "0.18 0.06 0.12"),
    ("M-b level", "computed", f"{Y}level", "2 1 4 1.5"),
    ("M-c bend", "computed", f"{Y}three_feelers", "-1 -3 -0.8e-3"),
    ("M-c straightness", "computed", f"{Y}straightness_three_ways", "9.0 10.0"),
    ("M-d diagonals", "computed", f"{Y}diagonals", "721.37646 720.84395 0.53251"),
    ("M-d read back", "computed", f"{G}diagonals_tell_squareness", "721.37646"),
    ("M-e pure effects on a circle", "computed", f"{Y}pure_effects_on_a_circle",
     "0.0500 0.0400 0.120"),
    ("U-a GUM G.4.1", "memory", f"{Y}gum_example_g41", "1.03 19.0 2.09 2.2"),
    ("U-b five readings", "computed", f"{Y}readings", "100.018 0.02588 0.01158"),
    ("U-c caliper", "computed", f"{Y}caliper", "0.0029 0.0100 0.0069 0.01250"),
    ("U-d Student's t", "memory", f"{Y}students_t", "12.71 4.30 2.57 2.23 2.09 2.01"),
    ("U2 forms of a spread", "memory", f"{Y}forms_of_a_spread", "arcsine"),
    ("U5 acceptance", "memory", f"{Y}acceptance_takes_the_uncertainty_off", "0.02"),
    ("ISO 286 fits", "read", f"{Y}fits", "25 21 7 41 20 33 74"),
    ("ISO 286 limits of rows", "read", f"{Y}a_size_on_a_limit_belongs_to_the_lower_row", "0.021"),
    ("ISO 2768", "read", f"{Y}general_tolerances", "0.3 1.2"),
    ("timber as delivered", "read", f"{Y}timber_as_delivered", "-0.5 1.5 3.0 4.0"),
    # --- error budget and the chain of slides
    ("E1 to E3 five errors", "computed", f"{Y}budgets", "48 25.34 36.67"),
    ("E5 shared out over four parts", "read", f"{Y}budgets", "25 50 37.5"),
    ("E4 mixed", "memory", f"{Y}budgets", "18"),
    ("21 errors", "computed", f"{G}check_value_of_all_21_errors", "-0.05730 0.00899 0.02840"),
    ("Abbe", "computed", f"{G}abbe", "-0.015"),
    # --- traps: drives
    ("carriage through the nut", "computed", f"{S}torque_through_the_nut", "77.7 61.9"),
    ("carriage through the nut, machine", "computed",
     MACHINE.format("drive") + "demand_through_the_nut", "77.7"),
    ("braking takes the lowering torque", "computed",
     f"{D}slowing_down_takes_the_lowering_torque", "63.78"),
    ("drag of a preloaded nut", "computed", f"{D}drag_of_the_preload", "89.0 90.4 99.9"),
    ("a sprung nut opens one way", "computed", f"{D}spring_nut_opens_towards_its_spring_only",
     "550.0"),
    ("magnetic spring", "computed", f"{M}magnetic_spring_through_the_screw", "4.64 1.62 3.04"),
    ("peak and RMS", "computed", f"{P}peak_and_rms_are_41_percent_apart", "1.41421356"),
    ("time-domain model", "computed", f"{M}pull_out_lies_below_a_time_domain_model",
     "1004 712 537 1044"),
    ("no field current, no torque", "computed",
     f"{M}pull_out_without_field_current_would_be_nothing", "900"),
    ("run-up", "computed", f"{D}acceleration_at_the_top_speed_is_no_guide", "0.089 0.043"),
    ("jump", "computed", f"{M}largest_speed_jump", "29.32 17.15"),
    ("jump at the carriage", "computed", f"{D}largest_jump_at_the_carriage", "59.3 34.7"),
    ("slip", "computed", f"{D}slips", "0.102 0.254 0.36e-3"),
    ("ringing", "computed", f"{B}frequencies", "40.5 81"),
    ("belt in a loop", "computed", f"{D}belt_spans", "160 120"),
    ("pitch for lead", "computed", f"{S}pitch_is_not_lead", "12.7"),
    # --- traps: frame
    ("two bearers side by side", "computed", f"{F}parallel_bearers", "10.0 6.25 5.0"),
    ("two bearers in the machine", "computed",
     MACHINE.format("structure") + "two_bearers_are_no_chain", "10.0 6.25 5.0"),
    ("dent of a skin", "computed", f"{B}skin_dent", "158 20"),
    ("dent of a skin only held down", "memory",
     f"{B}a_skin_that_is_only_held_down_dents_twice_as_deep", "0.0116"),
    ("wheel letting go", "computed", f"{B}unloading", "2.0 2.16 2.83"),
    ("half as stiff from there on", "computed",
     f"{B}preloaded_wheels_soften_when_one_runs_free", "0.5"),
    ("far wheel lets go", "computed", f"{L}the_far_wheel_lets_go", "2.00 2.16 2.83"),
    ("turning is k r squared", "computed",
     f"{L}turning_is_stiffness_times_radius_squared", "70 45"),
    ("heavier swings slower", "memory",
     MACHINE.format("modes") + "stiffer_swings_faster_and_heavier_slower", "0.999"),
    ("one mass swept", "memory", f"{F}one_mass_on_a_spring_swept", "0.04"),
    ("two masses swept", "memory", f"{F}two_masses_swept", "0.03"),
    ("a beam swept", "memory", f"{F}a_beam_with_its_mass_spread_out_swept", "4e9"),
    ("the frame by a library, six by six", "computed",
     MACHINE.format("frame_by_a_library") + "six_by_six_at_the_nose", "2e-3"),
    ("damp plywood in the machine", "computed",
     MACHINE.format("results") + "damp_against_the_preload", "0.0297"),
    ("damp plywood", "memory", f"{B}damp_plywood_against_the_preload", "81.0"),
    ("one screw, middle or side", "computed",
     MACHINE.format("structure") + "one_drive_lets_the_gantry_yaw", "1.2"),
    ("two motors that disagree", "computed", f"{D}two_motors_against_springs_solved", "apart"),
    ("a stiffer part, F'CF", "computed", f"{F}a_stiffer_part_never_raises_the_work", "1e-12"),
    ("a wall may get worse", "computed", f"{F}a_wall_may_get_worse_though_no_work_does",
     "30.0 38.0"),
]  # fmt: skip


@cache
def sources_of(file):
    """The tests of a file with their decorators, without the underscores of long numbers."""
    text = (TESTS / file).read_text(encoding="utf-8")
    lines, found = text.splitlines(), {}
    for node in ast.parse(text).body:
        if isinstance(node, ast.FunctionDef):
            first = min([node.lineno, *(one.lineno for one in node.decorator_list)])
            own = "\n".join(lines[first - 1 : node.end_lineno])
            found[node.name] = re.sub(r"(?<=\d)_(?=\d)", "", own)
    return found


def test_every_reference_value_is_checked_somewhere():
    lost = []
    for row, status, test, figures in ROWS:
        file, _, name = test.partition("::")
        source = sources_of(file).get(name)
        if source is None:
            lost.append(f"{row}: no test {test}")
            continue
        assert status.split(",")[0] in ("read", "memory", "computed")
        for figure in figures.split():
            if not re.search(rf"(?<![\w.]){re.escape(figure)}(?![\w]|\.\d)", source):
                lost.append(f"{row}: {test} no longer holds {figure}")
    assert not lost, "\n".join(lost)
    assert len({row for row, *_ in ROWS}) == len(ROWS)
