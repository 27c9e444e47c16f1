"""Points, circles, decisions, indexes, leads, lengths, lines and reliefs by plain arithmetic."""

from __future__ import annotations

from collections.abc import Mapping
from math import acos, asin, atan, cos, degrees, exp, hypot, pi, radians, sin, sqrt, tan
from typing import Any

Case = tuple[str, Mapping[str, Any], Mapping[str, Any], float]
"""A computation, its inputs, some of its quantities by hand, and within what they must agree."""

NORMAL = {1.0: 0.8413447461, 1.645: 0.9500150945, 2.0: 0.9772498681}
"""The normal distribution function (tables; from memory)."""
ROUND = [[5.002, 0], [0, 4.998], [-5.002, 0], [0, -4.998]]
"""Residuals of 2 um crosswise, which neither radius nor centre takes up."""
K1, K2 = degrees(atan(2.905 / 1.352)), degrees(atan(2.902 / 1.332))

SHAPES: tuple[Case, ...] = (
    (
        "edge-out-of-plane",
        {"kappa_view_deg": 65, "epsilon_deg": 5},
        {"kappa_deg": degrees(atan(tan(radians(65)) / cos(radians(5))))},
        1e-9,
    ),
    (
        "normal-plane",
        {"alpha_t_deg": 8, "gamma_t_deg": 10, "helix_deg": 45},
        {
            "alpha_n_deg": degrees(atan(tan(radians(8)) * sqrt(2))),
            "gamma_n_deg": degrees(atan(tan(radians(10)) / sqrt(2))),
        },
        1e-9,
    ),
    (
        "point-angle",
        {
            "lip_1_z_r_mm": [[15.640, 0.700], [14.288, 3.605]],
            "lip_2_z_r_mm": [[15.638, 0.702], [14.306, 3.604]],
            "u_point_mm": 0.0015,
        },
        {
            "point_angle_deg": K1 + K2,
            "lip_symmetry_deg": K2 - K1,
            "u_kappa_lip_1_deg": degrees(sqrt(2) * 0.0015 / hypot(2.905, 1.352)),
        },
        1e-9,
    ),
    (
        "point-length",
        {"diameter_mm": 8.5, "point_angle_deg": 90},
        {"point_length_mm": 4.25},
        1e-12,
    ),
    (
        "rake-offset",
        {"radius_mm": 20, "gamma_deg": 30, "offset_rounded_mm": 10},
        {"offset_mm": 10, "gamma_from_rounded_offset_deg": 30},
        1e-12,
    ),
    (
        "sine-bar",
        {"bar_length_mm": 100, "angle_deg": 30, "stack_rounded_mm": 50},
        {"stack_mm": 50, "angle_from_rounded_stack_deg": 30},
        1e-12,
    ),
    (
        "taper-angle",
        {"diameter_1_mm": 12, "diameter_2_mm": 10, "distance_mm": 20},
        {"included_deg": 2 * degrees(atan(1 / 20)), "half_deg": degrees(atan(1 / 20))},
        1e-12,
    ),
    (
        "tool-planes",
        {"gamma_f_deg": 10, "gamma_p_deg": 5, "kappa_r_deg": 60},
        {
            "gamma_o_deg": degrees(atan(tan(radians(10)) * sqrt(3) / 2 + tan(radians(5)) / 2)),
            "lambda_s_deg": degrees(atan(tan(radians(5)) * sqrt(3) / 2 - tan(radians(10)) / 2)),
        },
        1e-9,
    ),
    (
        "chord-rise",
        {"chord_mm": 4, "rise_mm": 0.35},
        {"radius_mm": 16 / 2.8 + 0.175, "sensitivity_to_rise": 0.5 - 2 / 0.35**2},
        1e-9,
    ),
    (
        "circle",
        {"points_mm": ROUND},
        {
            "radius_mm": 5,
            "form_mm": 0.004,
            "residual_std_mm": 0.004,
            "u_r_over_s": 0.5,
            "span_deg": 270,
            "u_radius_mm": 0.002,
        },
        1e-9,
    ),
    (
        "circle-held-centre",
        {"points_mm": [[3, 4], [5.002, 0], [0, 4.996]], "held_centre_mm": [0, 0]},
        {"radius_mm": (5 + 5.002 + 4.996) / 3, "u_r_over_s": 1 / sqrt(3), "form_mm": 0.006},
        1e-9,
    ),
    (
        "circle-held-radius",
        {"points_mm": ROUND, "held_radius_mm": 5},
        {"max_deviation_mm": 0.002, "min_deviation_mm": -0.002, "centre_x_mm": 0},
        1e-9,
    ),
    (
        "circle-minimum-zone",
        {"points_mm": ROUND},
        {"zone_mm": 0.004, "radius_mm": 5, "form_about_ls_centre_mm": 0.004},
        1e-9,
    ),
    (
        "circle-on-axis",
        # Heights 3, 4 and 5 over the centre; residuals 1, -2, 1 um are square to both unknowns.
        {
            "points_mm": [
                [20 + 5.001 * 0.8, 100 + 5.001 * 0.6],
                [20 + 4.998 * 0.6, 100 + 4.998 * 0.8],
                [20, 105.001],
            ],
            "axis_x_mm": 20,
        },
        {
            "radius_mm": 5,
            "tip_z_mm": 105,
            "form_mm": 0.003,
            "residual_std_mm": sqrt(6) / 1000,
            # inverse(J'J) of rows (0.6, 1), (0.8, 1), (1, 1): 2.0 / (3 x 2 - 2.4^2).
            "u_r_over_s": sqrt(2 / 0.24),
        },
        1e-9,
    ),
    (
        "circle-span",
        {"number_of_points": 4, "spans_deg": [360]},
        {"u_r_over_s_span_360_deg": 0.5},
        1e-12,
    ),
    (
        "conformity",
        {"y_mm": 8.4969, "u_mm": 0.0021, "lower_limit_mm": 8.478, "upper_limit_mm": 8.5},
        {
            "verdict": "neither shown",
            "guard_band_mm": 0.0034545,
            "acceptance_low_mm": 8.4814545,
            "acceptance_high_mm": 8.4965455,
            "rejection_above_mm": 8.5034545,
        },
        1e-12,
    ),
    (
        "decision-rule",
        {
            "kind": "share of U",
            "y_mm": 8.4969,
            "u_mm": 0.002,
            "share": 0.5,
            "lower_limit_mm": 8.478,
            "upper_limit_mm": 8.5,
        },
        {
            "verdict": "conforms",
            "guard_band_mm": 0.002,
            "U_over_tolerance": 4 / 22,
            "risk_wrong_acceptance": 1 - NORMAL[1.0],
        },
        1e-9,
    ),
    (
        "specific-risk",
        {"y_mm": 8.4984, "u_mm": 0.0008, "upper_limit_mm": 8.5},
        {"accepted": True, "risk": 1 - NORMAL[2.0], "conformance_probability": NORMAL[2.0]},
        1e-9,
    ),
    (
        "global-risk",
        # Measured without error: what is accepted wrongly is none, what conforms is the process.
        {
            "process_mean_mm": 10,
            "process_std_mm": 0.01,
            "u_mm": 0,
            "lower_limit_mm": 9.98,
            "upper_limit_mm": 10.02,
        },
        {
            "consumer_risk": 0,
            "producer_risk": 0,
            "fraction_conforming": 2 * NORMAL[2.0] - 1,
        },
        1e-8,
    ),
    (
        "index-runout",
        {"readings_um": [10, 4, -2, 4]},
        {"variation_um": 12, "eccentricity_um": 6, "high_side_deg": 0, "mean_um": 4},
        1e-9,
    ),
    (
        "spacing",
        {"radius_mm": 20, "offsets_um": [0, 10, -6]},
        {
            "total_index_range_arcmin": 60 * degrees(0.016 / 20),
            "index_error_arcmin": [0, 60 * degrees(0.01 / 20), -60 * degrees(0.006 / 20)],
        },
        1e-9,
    ),
    (
        "swing-test",
        {"phi_deg": [0, 90, 180, 270], "e_um": [8, 1, 0, 3], "R_set_mm": 5},
        # Mean 3, halves of the differences 4 and -1; what is left is +1, -1, +1, -1.
        {"radius_mm": 5.003, "a_um": 3, "p_um": 4, "q_um": -1, "form_um": 2, "mean_e_um": 3},
        1e-9,
    ),
    (
        "lead-from-creep",
        {"lead_set_mm": 100, "radius_mm": 5, "length_mm": 20, "creep_mm": 0.02},
        {"lead_mm": 1 / (0.01 + 0.02 / (2 * pi * 5 * 20))},
        1e-9,
    ),
    (
        "lead-from-helix",
        {"diameter_mm": 10, "helix_deg": 45},
        {"lead_mm": 10 * pi},
        1e-9,
    ),
    (
        "lead-from-travel",
        {"z_mm": [0, 10.01, 19.99], "phi_deg": [0, 36, 72], "diameter_mm": 10},
        # Slope (19.99 - 0) / 72; rest 0.01 x (-2, 4, -2) / 6, u = s / sqrt(2 x 36^2).
        {
            "lead_mm": 99.95,
            "u_lead_mm": 360 * sqrt(24 / 360000 * (1.5**2)) / sqrt(2 * 36**2),
            "helix_deg": degrees(atan(pi * 10 / 99.95)),
        },
        1e-9,
    ),
    (
        "lead-on-taper",
        {
            "diameter_small_mm": 6,
            "diameter_large_mm": 6 * exp(1),
            "length_mm": 3 * (exp(1) - 1),
            "helix_deg": 45,
        },
        # k = 1, so that the turn is one radian times ln e.
        {"lead_small_mm": 6 * pi, "lead_large_mm": 6 * exp(1) * pi, "turn_deg": degrees(1)},
        1e-9,
    ),
    (
        "depth-in-face",
        {"outer_radius_mm": 5, "depth_mm": 0, "gamma_deg": 30},
        {"face_depth_mm": 0},
        1e-12,
    ),
    (
        "edge-off-maximum",
        {"radius_mm": 5, "epsilon_deg": 60},
        {"error_um": 2500},
        1e-9,
    ),
    (
        "to-20-degrees",
        {
            "reading_mm": 100,
            "alpha_tool_per_K": 11e-6,
            "T_tool_degC": 35,
            "alpha_scale_per_K": 8e-6,
            "T_scale_degC": 22,
        },
        {"length_20_mm": 100 - 0.0165 + 0.0016, "correction_um": -14.9},
        1e-9,
    ),
    (
        "width-two-sightings",
        {"x1": 1.5, "x2": 1.1, "scale_factor": 25.4, "bias_mm": 0.003},
        {"diameter_mm": 10.157},
        1e-12,
    ),
    (
        "contour-fit",
        {
            "points_mm": [[1, 0.003], [5, -0.002], [9, 0.002]],
            "elements": [{"kind": "line", "from_mm": [0, 0], "to_mm": [10, 0]}],
            "point_element": [0, 0, 0],
            "freedoms": ["dz"],
        },
        {"dz_mm": 0.001, "max_deviation_mm": 0.002, "min_deviation_mm": -0.003},
        1e-12,
    ),
    (
        "included-angle",
        {
            "points_line_1_mm": [[0, 0], [3, 4]],
            "points_line_2_mm": [[0, 0], [4, 3]],
        },
        {"acute_angle_deg": degrees(acos(24 / 25)), "obtuse_angle_deg": 180 - degrees(acos(0.96))},
        1e-9,
    ),
    (
        "line",
        {"points_mm": [[0, 0.001], [1, -0.002], [2, 0.001]]},
        {"angle_deg": 0, "mean_x_mm": 1, "straightness_ls_mm": 0.003},
        1e-12,
    ),
    (
        "line-weighted",
        {"x": [0, 1, 2], "y": [0, 1, 3], "u_x": [0, 0, 0], "u_y": [1, 1, 1], "x_at": 1},
        # Sxx 2, slope 3/2, mean 4/3; rest 1/6, -1/3, 1/6.
        {
            "slope": 1.5,
            "intercept": -1 / 6,
            "u_slope": sqrt(1 / 2),
            "u_intercept": sqrt(1 / 3 + 1 / 2),
            "reduced_chi_square": 1 / 6,
            "y_at": 4 / 3,
            "u_y_at": sqrt(1 / 3),
        },
        1e-9,
    ),
    (
        "straightness-minimum-zone",
        {"points_mm": [[0, 0], [1, 0.003], [2, 0]]},
        {"zone_mm": 0.003, "zone_angle_deg": 0},
        1e-12,
    ),
    (
        "infeed",
        {
            "diameter_mm": 10.03,
            "diameter_aim_mm": 10.0,
            "axial_mm": 0.02,
            "kappa_deg": 30,
            "radius_to_lose_mm": 0.01,
            "clearance_deg": 45,
            "stock_mm": 0.01,
            "swivel_deg": 60,
        },
        {
            "cylinder_infeed_mm": 0.015,
            "flank_infeed_mm": 0.01,
            "face_stock_mm": 0.01,
            "swivelled_infeed_mm": 0.02,
        },
        1e-9,
    ),
    (
        "relief-expected-drop",
        {"radius_mm": 5, "alpha_deg": 10, "roll_deg": 10},
        # Half way round the chord's foot: the land is nearest to the axis there.
        {
            "drop_flat_mm": 5 * (1 - cos(radians(10))),
            "drop_eccentric_mm": 5 * radians(10) * tan(radians(10)),
        },
        1e-9,
    ),
    (
        "relief-hollow-land",
        {"alpha_chord_deg": 10, "land_width_mm": 0.8, "wheel_radius_mm": 75},
        {"alpha_edge_deg": 10 + degrees(asin(0.8 / 150)), "added_deg": degrees(asin(0.8 / 150))},
        1e-9,
    ),
    (
        "relief-land-width",
        {
            "radius_mm": 5,
            "land_width_mm": 0.8,
            "heel_drop_mm": 5 - hypot(5 - 0.8 * sin(radians(10)), 0.8 * cos(radians(10))),
        },
        {"alpha_deg": 10},
        1e-9,
    ),
    (
        "relief-rolled",
        {
            "radius_mm": 5,
            "drop_mm": 5 - 5 * cos(radians(10)) / cos(radians(4)),
            "roll_deg": 6,
        },
        {"alpha_flat_deg": 10},
        1e-9,
    ),
    (
        "relief-slid",
        {"reading_mm": 0.2, "travel_mm": 0.1, "lever_angle_deg": 60},
        {"alpha_deg": 45, "drop_mm": 0.1},
        1e-9,
    ),
)
