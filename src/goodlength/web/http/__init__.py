"""The page's HTTP: who may ask, limits, sessions, uploads, byte ranges, errors as answers."""
