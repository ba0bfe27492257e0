"""Force law, chip, pull left in the motors, deflection."""
