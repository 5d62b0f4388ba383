"""Films of the validation family: thresholds are chosen on them, nothing is trained or judged on them."""
