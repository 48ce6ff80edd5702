"""Parts of the job sheets that tests write, as a person would."""

DRENCH = """
[[treatments]]
name = "oral drench"
ml_per_step = 5.0
step_kg = 50
at_least_ml = 10.0
round_to_ml = 5.0
round = "up"
withhold_days = 28
export_days = 42
"""
PENS = """
[[draft]]
pen = "heavy"
at_least_kg = 340
[[draft]]
pen = "light"
below_kg = 300
[[draft]]
pen = "middle"
"""
