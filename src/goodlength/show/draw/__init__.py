"""Charts and court drawings as SVG text; each takes plain values and a theme."""
