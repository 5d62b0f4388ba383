"""A serve measured from marks: model, fit, path, kind, ranges."""
