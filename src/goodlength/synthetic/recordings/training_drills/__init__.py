"""Learning families whose players also drill, warm up and wait in many ways, heard through other phones."""
