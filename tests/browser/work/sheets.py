"""A small job sheet for the pages: two cylinders, one length on each, no master and no screw."""

SHEET = """
[sheet]
title = "Small pump, two cylinders"
revision = "A"
rule = "simple"

[[sources]]
id = "test"
document = "Figures invented for a test"
revision = "1"

[engine]
source = "figures invented for a test"
stroke = "four"
cylinders = 2
firing_order = "1-2"
rotation = "clockwise"
seen_from = "free end"
intake_valves = 1
exhaust_valves = 1
injectors = 1

[[variants]]
name = "only one"
plate = "1500 1/min"

[[gauges]]
role = "rack"
kind = "depth gauge"
resolution = "0.001 mm"
range = "10 mm"
u = "0.004 mm"

[[steps]]
name = "rack"
what = "Rack reference length"
for_each = "cylinder"
recipe = "length"
nominal = "0.00 mm"
limits = "± 0.05 mm"
source = "test, p. 1"
condition = "pinned"
crank = "any"
gauge = "rack"
cautions = ["Keep your hands off the rack."]
"""
