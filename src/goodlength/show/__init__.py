"""show: charts, court drawings and the handout; pure drawing, text in and pictures out.

It never computes a finding, reads the store or decides what may be said: values come in ready.
Public modules: `charts`, `courtdraw`, `scoreline`, `unfolded`, `sideview`, `tapes`, `grades`, `marks` (functions
returning SVG text, in one of the looks `ink.PAGE`, `ink.PAPER`, `ink.FILE`), `cautions`, and `handout` (`make`).
"""
