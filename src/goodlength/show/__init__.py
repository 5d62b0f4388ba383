"""show: charts, court drawings and the handout; pure drawing, text in and pictures out.

It never computes a finding, reads the store or decides what may be said: values come in ready.
Public: `charts`, `courtdraw`, `grades`, `marks`, `unfolded` (functions returning SVG text), `ink.Look`
with `PAGE`, `PAPER` and `FILE`, `cautions`, and `handout.make(HandoutData, folder, stem)`.
"""
