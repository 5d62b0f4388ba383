"""show: charts, court drawings and the handout; pure drawing, text in and pictures out.

It never computes a finding, reads the store or decides what may be said: values come in ready.
`draw` holds the drawings (SVG text, in a theme of `draw.primitives`), `handout` the page for the player,
`cautions` the words that must be read with every figure.
"""
