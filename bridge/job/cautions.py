"""Cautions that stand beside every figure that could hurt someone who trusts it blindly."""

WEIGHTS = "Weights are for management, not for trade: trade by weight needs an approved instrument."
DOSES = (
    "Dose, withholding and export figures are arithmetic on what was typed: label, veterinarian and local rules decide."
)
