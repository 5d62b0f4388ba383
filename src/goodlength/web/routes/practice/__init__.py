"""Routes of practice: plan, drills, sessions, recordings, calendar, aim."""
