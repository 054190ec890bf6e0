import math

import numpy as np
import pandas as pd

from monitor.figures.strip.mounting_rows import LENGTH_TOLERANCE, kg_per_m, run_out
from shared.reference import densities, gauges
from shared.units import convert


def test_densities_printed_in_two_systems_of_units_agree(published):
    figure = published("MA-01")  # mill data sheets; Kissell and Ferry; Gere
    grades = figure.inputs["lb_in3"]
    kept = np.array([densities()[grade].density_kg_m3 for grade in grades])
    figure.agrees("g_cm3", kept / 1000)
    figure.agrees("ratio", convert(np.array(list(grades.values())), "lb/in3", "kg/m3") / kept)


def test_sheet_steel_gauges(published):
    figure = published("MA-02")  # Manufacturers' Standard Gage for Sheet Steel
    numbers = figure.inputs["gauge"]
    assert list(gauges()) == numbers
    weights = np.array([gauges()[number].weight_lb_ft2 for number in numbers])
    figure.agrees("lb_ft2", weights)
    figure.agrees("thickness_in", weights / figure.inputs["lb_ft2_in"])
    figure.agrees("thickness_in", [gauges()[number].thickness_in for number in numbers])


def test_weight_and_length_of_a_coil(published):
    figure = published("MA-03")  # geometry
    given = figure.inputs
    coil = {
        "material": "steel",
        "width_mm": convert(given["width_in"], "in", "mm"),
        "thickness_mm": convert(given["t_in"], "in", "mm"),
    }
    weight_kg_m = kg_per_m(coil, {"steel": convert(given["lb_in3"], "lb/in3", "kg/m3")})
    wound_m = convert(math.pi * (given["od_in"] ** 2 - given["id_in"] ** 2) / 4 / given["t_in"], "in", "m")
    coil_lb = convert(wound_m * weight_kg_m, "kg", "lb")
    figure.agrees("coil_lb", coil_lb)
    figure.agrees("lb_per_in_width", coil_lb / given["width_in"])
    # The other way round: the published weight runs out after the published length.
    coil_kg = convert(figure.expected["coil_lb"], "lb", "kg")
    feet = convert(1.0, "ft", "mm")
    used = pd.DataFrame({"mounting_id": ["m"], "start_kg": coil_kg, "kg_per_m": weight_kg_m, "pitch_mm": feet / 1000})
    beyond = used.assign(used_mm=feet * figure.expected["length_ft"] * (1 + LENGTH_TOLERANCE) * 1.001)
    within = used.assign(used_mm=feet * figure.expected["length_ft"] * (1 + LENGTH_TOLERANCE) * 0.999)
    assert abs(run_out(beyond)["m"] / 1000 - figure.expected["length_ft"]) < 0.1
    assert run_out(within).empty
