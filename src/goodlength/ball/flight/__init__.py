"""Compiled flights: motion between contacts, contacts, many launches, and launches that meet places."""
