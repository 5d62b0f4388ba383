"""Drawings of the court: floor, front wall, unfolded, side view, drills, attempts, movement."""
