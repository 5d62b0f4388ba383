"""Forms of practice: plans and progress, the transfer to matches, the calendar."""
