"""show: charts, court drawings and the handout; pure drawing, text in and pictures out.

It never computes a finding, reads the store or decides what may be said: values come in ready.
Public modules that return SVG text: `charts`, `courtdraw`, `scoreline`, `unfolded`, `sideview`, `tapes`,
`grades`, `marks`, each in one of the looks `ink.PAGE`, `ink.PAPER`, `ink.FILE`.
Also `cautions` (words with their sources) and `handout` (`make`: one A4 page as PDF and HTML).
"""
