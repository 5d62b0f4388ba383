"""A replayed match as plain columns, one row a rally."""
