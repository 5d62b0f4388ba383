"""What the flight stands on: constants with sources, air, drag, coefficients, what a coach can say."""
